"""The vehicle as frozen values and their connections. No formulas, no files, no verbs that compute."""
