"""How far may the grounds of a line's nodes be apart?"""

from dataclasses import dataclass
from itertools import permutations

from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.terms.answer import Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Unknown, bounds_of


@dataclass(frozen=True, slots=True)
class LineGrounds:
    """The two components whose grounds may be farthest apart, of those of which something is known.

    ``offset_v`` is how far, in V; ``between`` the one that may be higher, then the other. ``None`` and empty where
    there are no two to compare. ``controller`` is the component whose ground all others are stated against, empty where
    the line names none. ``unstated`` say nothing of their ground, ``waits`` are the facts that somebody has to find out.
    """

    offset_v: float | None
    between: tuple[str, ...]
    controller: str
    unstated: tuple[str, ...]
    waits: tuple[Path, ...]


def line_grounds(name: str, line: Line, components: Table[Component]) -> Solved[LineGrounds]:
    """Compare the grounds of different components of a line, each at the worse end of what is stated.

    Grounds are stated against that of the controller, so the controller that the line names stands among them at 0 V.
    Where it states a ground itself, as one does that another controller masters on another line, it counts from the one
    to the other: nobody says against which of the two the rest was measured. A line that names no controller, or one that
    is not on it, has only its stated grounds; a single one of them has then nothing to be held against and waits for the
    controller's name. An unknown ground blocks no other pair.
    """
    ports = (station.port.partition(".")[0] for station in line.stations if station.port)
    nodes = [name for name in dict.fromkeys(ports) if components[name].role != "service plug"]
    named = line.controller.partition(".")[0]
    controller = named if named in nodes else ""
    bounds: dict[str, tuple[float, float]] = {controller: (0.0, 0.0)} if controller else {}
    unstated: list[str] = []
    waits: list[Path] = []
    assumed: list[Path] = []
    for node in nodes:
        fact, path = components[node].ground_offset_v, ("components", node, "ground_offset_v")
        if isinstance(fact, Unknown):
            bounds.pop(node, None)
            waits.append(path)
        elif fact is not None:
            low, _, high = bounds_of(fact)
            at = bounds.get(node, (low, high))
            bounds[node] = min(low, at[0]), max(high, at[1])
            assumed += [path] if isinstance(fact, Assumed) else []
        elif node != controller:
            unstated.append(node)
    if not controller and len(bounds) == 1:
        waits.append(("lines", name, "controller"))
    pairs = permutations(bounds, 2)
    apart = [(bounds[high][1] - bounds[low][0], (high, low)) for high, low in pairs]
    offset_v, between = max(apart, default=(None, ()), key=lambda pair: pair[0] or 0.0)
    return Solved(LineGrounds(offset_v, between, controller, tuple(unstated), tuple(waits)), tuple(assumed))
