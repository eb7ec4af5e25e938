"""The vehicle as a planning task: stops to place, lines to carry them, locks to keep."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from loomwright.model.component import Component
from loomwright.model.vehicle import Vehicle
from loomwright.propose.fits import PASSIVE_ROLE, fit, is_passive
from loomwright.propose.ground import Ground
from loomwright.propose.limits import LineLimits, limits_for
from loomwright.propose.traffic_late import LateSet
from loomwright.propose.traffic_load import port_loads
from loomwright.terms.change import Path
from loomwright.terms.fact import Unknown

APART = "not share a line with"
LOAD_ROUNDING = 1e-6
"""A load above its limit by less is not above it: as far as the program counts."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A port that needs a line. ``lines`` are numbers of the lines it can be on; ``place`` is a number of the ground."""

    port: str
    component: str
    place: int
    lead_mm: int
    termination: str
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LockOn:
    """A lock in numbers. ``line`` and ``other`` are -1 where its kind has none."""

    name: str
    must: str
    stop: int
    line: int = -1
    other: int = -1


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A port left without a line: what speaks against each line, and the open facts that stand in the way."""

    port: str
    against: tuple[tuple[str, tuple[str, ...]], ...] = ()
    blocked_by: tuple[Path, ...] = ()


@dataclass(frozen=True, eq=False, slots=True)
class Task:
    """Everything the planner decides on. ``left_aside`` are open facts that it plans without.

    ``plugs`` are the stops of service plugs (empty: no line needs one), ``lost`` the ports no line can take,
    ``lost_locks`` the locks that cannot be kept whatever is planned, ``misfits`` ports that are held on a line which
    their manual forbids, with the line, ``lost_masters`` ports that should master a line but master another one.
    ``loads``: by (stop, line) the share of the line's time it takes, in each state of the vehicle; ``late``: ports that
    make something late if they all are on a line, as far as earlier plans have shown.
    """

    ground: Ground
    lines: tuple[str, ...]
    limits: tuple[LineLimits, ...]
    stops: tuple[Stop, ...]
    locks: tuple[LockOn, ...]
    plugs: frozenset[int]
    lost: tuple[Unplaced, ...]
    lost_locks: tuple[str, ...]
    misfits: tuple[tuple[str, str], ...]
    lost_masters: tuple[tuple[str, str], ...]
    left_aside: tuple[Path, ...]
    loads: Mapping[tuple[int, int], tuple[float, ...]] = field(default_factory=dict)
    late: tuple[LateSet, ...] = ()


def task_of(
    vehicle: Vehicle, ground: Ground, limits: Mapping[str, LineLimits] | None = None, *, keep_lines: bool = False
) -> Task:
    """Sort out what can be planned. Needed ports, masters of lines and locked ports are placed; the rest stays free."""
    lines = tuple(vehicle.lines)
    held = _held(vehicle, keep_lines=keep_lines)
    locked_on = {lock.port: lock.line for lock in vehicle.locks.values() if lock.must == "be on line"}
    wanted = set(held)
    for lock in vehicle.locks.values():
        if lock.must != APART:
            wanted |= {lock.port, lock.other}
    stops: list[Stop] = []
    lost: list[Unplaced] = []
    misfits: list[tuple[str, str]] = []
    aside: list[Path] = [path for run, path in sorted(ground.net.unknown.items())]
    for name, component in vehicle.components.items():
        for port_name, port in component.ports.items():
            address = f"{name}.{port_name}"
            if not (port.needed or address in wanted):
                continue
            choice = _choice(vehicle, name, component, port_name, held.get(address), locked_on.get(address))
            misfits.extend((address, lines[line]) for line in choice.misfits)
            if not choice.lines:
                lost.append(Unplaced(address, choice.against, choice.blocked_by))
                continue
            aside.extend(choice.aside)
            stops.append(_stop(ground, name, component, port_name, choice.lines, aside))
    counted = port_loads(vehicle, {stop.port: tuple(lines[line] for line in stop.lines) for stop in stops})
    aside.extend(counted.left_aside)
    numbers = {stop.port: number for number, stop in enumerate(stops)}
    locks, lost_locks = _locks(vehicle, numbers, lines)
    return Task(
        ground,
        lines,
        tuple((limits or {}).get(name) or limits_for(line, vehicle) for name, line in vehicle.lines.items()),
        tuple(stops),
        locks,
        frozenset(n for n, stop in enumerate(stops) if vehicle.components[stop.component].role == PASSIVE_ROLE),
        tuple(lost),
        lost_locks,
        tuple(misfits),
        tuple(
            (line.controller, name)
            for name, line in vehicle.lines.items()
            if line.controller and held[line.controller] != name
        ),
        tuple(dict.fromkeys(aside)),
        {(numbers[port], lines.index(line)): share for (port, line), share in counted.shares.items()},
    )


def load_of(task: Task, line: int, stops: Collection[int]) -> tuple[float, ...]:
    """The load that stops put on a line, in each state; empty where they say nothing."""
    shares = [share for stop in stops if (share := task.loads.get((stop, line))) is not None]
    return tuple(sum(state) for state in zip(*shares, strict=True))


def staying(task: Task, line: int) -> tuple[int, ...]:
    """Stops that can be on no other line."""
    return tuple(number for number, stop in enumerate(task.stops) if stop.lines == (line,))


def load_bounds(task: Task, line: int) -> tuple[float, ...]:
    """What a line may carry in each state: its limit, or what stays on it whatever is planned, if that is more."""
    limit = task.limits[line].load
    if limit is None:
        return ()
    stays = load_of(task, line, staying(task, line))
    states = max((len(share) for share in task.loads.values()), default=0)
    return tuple(max(limit, here) for here in stays or (0.0,) * states)


def overfull(task: Task) -> tuple[tuple[str, float, float], ...]:
    """Lines that are too full whatever is planned, with that load and the limit."""
    found = []
    for line, name in enumerate(task.lines):
        limit, stays = task.limits[line].load, max(load_of(task, line, staying(task, line)), default=0.0)
        if limit is not None and stays > limit + LOAD_ROUNDING:
            found.append((name, stays, limit))
    return tuple(found)


def late_anyway(task: Task) -> tuple[str, ...]:
    """Lines on which something is late whatever is planned, because who makes it late can be nowhere else."""
    lines = {stop.port: tuple(task.lines[line] for line in stop.lines) for stop in task.stops}
    return tuple(
        dict.fromkeys(each.line for each in task.late if all(lines.get(port) == (each.line,) for port in each.ports))
    )


@dataclass(frozen=True, slots=True)
class _Choice:
    lines: tuple[int, ...]
    misfits: tuple[int, ...] = ()
    aside: tuple[Path, ...] = ()
    against: tuple[tuple[str, tuple[str, ...]], ...] = ()
    blocked_by: tuple[Path, ...] = ()


def _held(vehicle: Vehicle, *, keep_lines: bool) -> dict[str, str]:
    """Ports that stay on one line: its master, and with ``keep_lines`` every port that is on a line now."""
    held: dict[str, str] = {}
    if keep_lines:
        for name, line in vehicle.lines.items():
            held.update({station.port: name for station in line.stations if station.port})
    for name, line in reversed(tuple(vehicle.lines.items())):
        if line.controller:
            held[line.controller] = name
    return held


def _choice(
    vehicle: Vehicle, name: str, component: Component, port_name: str, held: str | None, locked: str | None
) -> _Choice:
    """Lines a port can be on. Where the user has settled the line, open facts do not stand in the way."""
    fits = {line_name: fit(name, component, port_name, line_name, line) for line_name, line in vehicle.lines.items()}
    lines = tuple(fits)
    if held is not None:
        number = (lines.index(held),)
        return _Choice(number, number if fits[held].against else (), fits[held].unknown)
    settled = {locked} if locked in fits and not fits[str(locked)].against else set()
    fitting = tuple(n for n, line in enumerate(lines) if fits[line].sure or line in settled)
    aside = tuple(path for line in sorted(map(str, settled)) for path in fits[line].unknown)
    against = tuple((line, one.against) for line, one in fits.items() if one.against)
    blocked = tuple(dict.fromkeys(path for one in fits.values() if not one.against for path in one.unknown))
    return _Choice(fitting, (), aside, against, blocked)


def _stop(
    ground: Ground, name: str, component: Component, port_name: str, lines: tuple[int, ...], aside: list[Path]
) -> Stop:
    port = component.ports[port_name]
    own: Path = ("components", name, "ports", port_name)
    lead_m, termination = 0.0, "none"
    if isinstance(port.pigtail_m, Unknown):
        aside.append((*own, "pigtail_m"))
    else:
        lead_m = port.pigtail_m.value
    if not isinstance(port.termination, Unknown):
        termination = port.termination.value
    elif not is_passive(component, port_name):
        aside.append((*own, "termination"))
    return Stop(f"{name}.{port_name}", name, ground.number(component.place), round(1000 * lead_m), termination, lines)


def _locks(
    vehicle: Vehicle, numbers: dict[str, int], lines: tuple[str, ...]
) -> tuple[tuple[LockOn, ...], tuple[str, ...]]:
    """Locks in numbers, and the names of those that cannot be kept. Only a port that is placed keeps a lock."""
    kept: list[LockOn] = []
    lost: list[str] = []
    for name, lock in vehicle.locks.items():
        ports = (lock.port, lock.other) if lock.must in (APART, "share a line with") else (lock.port,)
        if any(port not in numbers for port in ports):
            # Two ports of which one is on no line do not share one.
            if lock.must != APART:
                lost.append(name)
        elif lock.must == "be on line" and lock.line not in lines:
            lost.append(name)
        else:
            line = lines.index(lock.line) if lock.must == "be on line" else -1
            kept.append(
                LockOn(name, lock.must, numbers[lock.port], line, numbers[lock.other] if len(ports) > 1 else -1)
            )
    return tuple(kept), tuple(lost)
