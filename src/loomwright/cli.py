"""The face in a terminal."""
