"""Search over everything that has a name."""

from collections.abc import Iterator
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Path

MOST = 40


@dataclass(frozen=True, slots=True)
class Hit:
    """A named thing: what kind of thing, its name as files have it, its title for people, its path."""

    kind: str
    name: str
    title: str
    path: Path


def search(vehicle: Vehicle, words: str, most: int = MOST) -> tuple[Hit, ...]:
    """Things whose name, title, role or maker holds every word, best first: a name that begins with the words wins."""
    wanted = words.lower().replace("_", " ").split()
    if not wanted:
        return ()
    ranked = []
    for order, (hit, more) in enumerate(_named(vehicle)):
        name = hit.name.lower().replace("_", " ")
        text = f"{name} {hit.title} {more}".lower()
        if all(word in text for word in wanted):
            begins = name.startswith(wanted[0]) or hit.title.lower().startswith(wanted[0])
            ranked.append((not begins, order, hit))
    return tuple(hit for _, _, hit in sorted(ranked, key=lambda entry: entry[:2])[:most])


def _named(vehicle: Vehicle) -> Iterator[tuple[Hit, str]]:
    """Every named thing with further words it can be found by."""
    for name, component in vehicle.components.items():
        more = f"{component.role} {component.maker} {component.place.replace('_', ' ')}"
        yield Hit("component", name, component.title or name, ("components", name)), more
    for name, component in vehicle.components.items():
        for port in component.ports:
            address = f"{name}.{port}"
            yield Hit("port", address, address, ("components", name, "ports", port)), component.title
    for name, line in vehicle.lines.items():
        yield Hit("line", name, line.title or name, ("lines", name)), line.protocol
    for name, place in vehicle.places.items():
        yield Hit("place", name, place.title or name, ("places", name)), ""
    for name, run in vehicle.runs.items():
        yield Hit("run", name, name, ("runs", name)), f"{run.start} {run.end}".replace("_", " ")
    for name, cable in vehicle.cables.items():
        yield Hit("cable", name, cable.title or name, ("cables", name)), ""
    for name, lock in vehicle.locks.items():
        yield Hit("lock", name, name, ("locks", name)), f"{lock.port} {lock.must} {lock.why}"
