"""One question a file: vehicle in, answer out. Where the model meets the laws. No limits, no wording."""
