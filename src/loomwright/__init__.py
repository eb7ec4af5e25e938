"""The low-voltage control system of a vehicle conversion: planned, checked against published limits, and drawn.

The way of the data, each step one folder:

1. ``files``   reads a project folder into a vehicle (text -> values), and writes smallest edits back.
2. ``model``   is that vehicle: frozen values and their connections, no formulas.
3. ``solve``   asks one question a file of the vehicle (values -> answers), with ``laws`` and ``engines``.
4. ``judge``   compares answers with published limits (answers -> findings).
5. ``propose`` finds changes that cure or complete (findings -> changes), judged again before they are offered.
6. ``show``    words and draws all of it for people.
7. ``app``     hosts the trip; ``cli`` is its face in a terminal.
"""

__version__ = "0.1.0"
