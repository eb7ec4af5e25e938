"""What is true: closed formulas and published tables on SI floats, each with its source. Knows no vehicle."""
