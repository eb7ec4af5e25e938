"""Components: add, take out, rename, double, move."""

from dataclasses import replace

from loomwright.app.edits.names import free, known, named, subject_edits
from loomwright.app.edits.spoken import removed_edits, renamed_edits
from loomwright.app.edits.stations import station_edits
from loomwright.model.component import Component, Port
from loomwright.model.table import Table
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit


def add_component(vehicle: Vehicle, name: str, role: str, place: str, title: str = "", port: str = "can") -> Change:
    """A component with one port and everything still to be asked of its manual."""
    free(vehicle.components, name, "component")
    known(vehicle.places, place, "place", "place")
    component = Component(role, place, title.strip(), ports=Table({named(port, "port"): Port()}))
    return Change(f"add {name}", (Edit(("components", name), component),))


def remove_component(vehicle: Vehicle, name: str) -> Change:
    """Take a component out, with its stations, the locks on its ports, and what it says."""
    component = known(vehicle.components, name, "component")
    ports = {f"{name}.{port}" for port in component.ports}
    edits = [*station_edits(vehicle, lambda port: None if port in ports else port)]
    edits += [Edit(("lines", n, "controller"), "") for n, line in vehicle.lines.items() if line.controller in ports]
    edits += [Edit(("locks", n), None) for n, lock in vehicle.locks.items() if {lock.port, lock.other} & ports]
    edits += removed_edits(vehicle, name)
    return Change(f"remove {name}", (*edits, Edit(("components", name), None)))


def rename_component(vehicle: Vehicle, old: str, new: str) -> Change:
    """Give a component another name; stations, controllers, locks and messages follow."""
    component = known(vehicle.components, old, "component")
    free(vehicle.components, new, "component")

    def renamed(port: str) -> str:
        return f"{new}.{port.partition('.')[2]}" if port.partition(".")[0] == old else port

    edits = [Edit(("components", new), component), *station_edits(vehicle, renamed)]
    for name, line in vehicle.lines.items():
        if renamed(line.controller) != line.controller:
            edits.append(Edit(("lines", name, "controller"), renamed(line.controller)))
    for name, lock in vehicle.locks.items():
        for field in ("port", "other"):
            value = getattr(lock, field)
            if renamed(value) != value:
                edits.append(Edit(("locks", name, field), renamed(value)))
    edits += renamed_edits(vehicle, old, new, renamed)
    edits += subject_edits(vehicle, (f"components.{old}", f"components.{new}"), (f"[{old}.", f"[{new}."))
    return Change(f"rename {old} to {new}", (*edits, Edit(("components", old), None)))


def duplicate_component(vehicle: Vehicle, name: str, new: str) -> Change:
    """A second component like the first, on no line yet. It passes nothing on: one gateway does that already."""
    component = replace(known(vehicle.components, name, "component"), forwards=Table())
    free(vehicle.components, new, "component")
    return Change(f"duplicate {name} as {new}", (Edit(("components", new), component),))


def move_component(vehicle: Vehicle, name: str, place: str) -> Change:
    """Mount a component at another place."""
    known(vehicle.components, name, "component")
    known(vehicle.places, place, "place", "place")
    return Change(f"move {name} to {place}", (Edit(("components", name, "place"), place),))
