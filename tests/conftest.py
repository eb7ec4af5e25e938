"""What tests have to tell a person at the end of a run, whichever process they ran in."""


def pytest_terminal_summary(terminalreporter):
    """Print what tests recorded as ``told``: how much of an outside authority was really there to be checked."""
    for report in terminalreporter.stats.get("passed", []):
        for name, words in report.user_properties:
            if name == "told":
                terminalreporter.write_line(words)
