"""Which components can be heard by a vehicle controller, over lines and gateways?"""

from dataclasses import dataclass

from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.table import Table

FORWARDING_ROLES = ("vehicle controller", "gateway")
"""Roles that pass messages from one of their lines to another. Others only listen and speak."""


@dataclass(frozen=True, slots=True)
class Reach:
    """``on_lines`` pairs every port address with the lines it is on.

    ``unreached`` are components with needed ports that no chain of lines and gateways joins to a vehicle controller.
    ``dark_lines`` are lines with stations that none reaches.
    """

    on_lines: tuple[tuple[str, tuple[str, ...]], ...]
    unreached: tuple[str, ...]
    dark_lines: tuple[str, ...]


def reach(components: Table[Component], lines: Table[Line]) -> Reach:
    """Walk from every vehicle controller over its lines, and on through gateways."""
    on_lines: dict[str, list[str]] = {
        f"{name}.{port}": [] for name, component in components.items() for port in component.ports
    }
    members: dict[str, set[str]] = {}
    for name, line in lines.items():
        ports = dict.fromkeys(station.port for station in line.stations if station.port)
        members[name] = {port.partition(".")[0] for port in ports}
        for port in ports:
            on_lines.setdefault(port, []).append(name)
    lines_of: dict[str, set[str]] = {}
    for port, names in on_lines.items():
        lines_of.setdefault(port.partition(".")[0], set()).update(names)
    frontier = [name for name, component in components.items() if component.role == "vehicle controller"]
    seen = set(frontier)
    lit: set[str] = set()
    while frontier:
        here = frontier.pop()
        for line_name in lines_of.get(here, set()) - lit:
            lit.add(line_name)
            for other in members[line_name] - seen:
                seen.add(other)
                if components[other].role in FORWARDING_ROLES:
                    frontier.append(other)
    unreached = tuple(
        name
        for name, component in components.items()
        if name not in seen and any(port.needed for port in component.ports.values())
    )
    dark = tuple(name for name in lines if members[name] and name not in lit)
    return Reach(tuple((port, tuple(names)) for port, names in sorted(on_lines.items())), unreached, dark)
