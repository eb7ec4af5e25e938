"""The rules, one file for each subject. A rule yields readings and names limits; it never compares."""
