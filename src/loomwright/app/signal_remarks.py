"""What an edge meets on a line, in sentences: the same for a page and for a terminal."""

from collections.abc import Sequence

from loomwright.app.project import Project
from loomwright.app.signal import LinePhysics
from loomwright.judge.evidence import cable_of, components_on
from loomwright.model.vehicle import Vehicle
from loomwright.propose.signal_cures import Effect
from loomwright.show.names import component_title
from loomwright.show.signal_words import remarks, ringing, ringing_cures
from loomwright.solve.echoes import Mismatch, mismatches
from loomwright.solve.signal_parts import signal_parts
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Unknown


def spots_of(project: Project, name: str) -> tuple[Mismatch, ...]:
    """Where the edges of a line come back from; none where it cannot be computed."""
    vehicle = project.vehicle
    line, wired = vehicle.lines[name], project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return ()
    parts = signal_parts(line, components_on(vehicle, line), cable_of(vehicle, line), wired.value)
    return () if isinstance(parts, Blocked) else mismatches(parts)


def remarks_of(
    project: Project,
    name: str,
    physics: LinePhysics,
    spots: tuple[Mismatch, ...],
    effects: Sequence[Effect] | None,
    asking: str,
) -> tuple[str, ...]:
    """What an edge meets on a line. ``effects`` are the changes that were tried; ``asking`` says how to have them tried."""
    vehicle = project.vehicle
    wired = project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked) or isinstance(physics.signal, Blocked):
        return ()
    cable = vehicle.cables.get(vehicle.lines[name].cable)
    delay = cable.delay_s_per_m if cable is not None else None
    delay_s = 5e-9 if delay is None or isinstance(delay, Unknown) else delay.value
    stops = wired.value.stops
    on = sum(stop.termination == "on" and not stop.repeated for stop in stops)

    def called(stop: int) -> str:
        own = stops[stop]
        return title_of_port(vehicle, own.port) if own.port else f"the terminator at {own.place}"

    told = remarks(spots, on, delay_s, called)
    branches_m = {stop.port: stop.branch_m for stop in stops if stop.port and not stop.repeated}
    rings = ringing(physics.signal.value, branches_m, lambda port: title_of_port(vehicle, port))
    return (f"{rings} {ringing_cures(effects, asking)}", *told) if rings else told


def title_of_port(vehicle: Vehicle, port: str) -> str:
    """What people call the component of a port."""
    component = port.partition(".")[0]
    return component_title(component, vehicle.components.get(component))
