"""The door to people: the one place that words a finding, prints a unit, or draws."""
