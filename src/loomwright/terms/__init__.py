"""The words everyone speaks: quantities, facts, sources, limits, findings, answers, changes. Standard library only."""
