"""Command: will the bits arrive? Settling, levels and delays of every line, judged."""

from collections.abc import Callable
from dataclasses import dataclass

from loomwright.app.faults import FaultyLine
from loomwright.app.project import Project
from loomwright.judge.evidence import cable_of, components_on
from loomwright.judge.rule import judge
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.judge.rules.signal_evidence import SignalEvidence
from loomwright.model.vehicle import Vehicle
from loomwright.solve.bit_timing import LineTiming, line_timing, sampled
from loomwright.solve.grounds import LineGrounds, line_grounds
from loomwright.solve.levels import LineLevels, line_levels
from loomwright.solve.signal import LineSignal, Trace, line_signal, trace
from loomwright.solve.signal_draws import SEED, SignalDraws, signal_draws
from loomwright.solve.topology import LineTopology
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.fact import Unknown, bounds_of
from loomwright.terms.finding import Finding

LEFT_OUT = (
    "Left out: the loss in the cable's insulation (so ringing lasts a little longer here than on a real cable), common "
    "mode, and the clamping and edge shaping of a real driver. Copper's loss at high frequency is in, within a quarter. "
    "Lengths are rounded to the grid of time by up to 12 mm, which may move a figure by one ring where ringing lasts."
)


@dataclass(frozen=True, slots=True)
class LinePhysics:
    """The physical layer of one line: answers and findings."""

    name: str
    signal: Answer[LineSignal]
    levels: Answer[LineLevels]
    timing: Answer[LineTiming]
    grounds: Answer[LineGrounds]
    findings: tuple[Finding, ...]


class NoSuchPairError(LoomwrightError):
    """A sender or receiver that is not on the line."""


def signals(
    project: Project, only: str = "", progress: Callable[[str, int, int], bool] | None = None
) -> tuple[LinePhysics, ...]:
    """Answer and judge the physical layer of one line or of all. ``progress`` hears (line, done, all)."""
    vehicle = project.vehicle
    if only and only not in vehicle.lines:
        raise NoSuchPairError(f"there is no line {only!r}; there are {', '.join(vehicle.lines)}")
    return tuple(physics_of(project, vehicle, name, progress) for name in vehicle.lines if only in ("", name))


def physics_of(
    project: Project,
    vehicle: Vehicle,
    name: str,
    progress: Callable[[str, int, int], bool] | None = None,
    topology: LineTopology | None = None,
) -> LinePhysics:
    """One line of the project's vehicle or of a changed one. ``topology``: wired as no vehicle can say it."""
    line, answers = vehicle.lines[name], project.answers
    wired = answers.topology(vehicle, name) if topology is None else Solved(topology)
    components, cable = components_on(vehicle, line), cable_of(vehicle, line)
    grounds = line_grounds(name, line, components)
    if isinstance(wired, Blocked):
        unmeasured = SignalEvidence(name, None, wired, wired, wired, wired, grounds)
        return LinePhysics(name, wired, wired, wired, grounds, judge(SIGNAL_RULES, unmeasured))
    signal, timing = _signal_and_timing(project, vehicle, name, wired.value, progress)
    ambient = (vehicle.ambient_low_k, vehicle.ambient_high_k)
    levels = answers.ask(line_levels, line, components, cable, wired.value, ambient)
    delay = None if isinstance(cable.delay_s_per_m, Unknown) else bounds_of(cable.delay_s_per_m)[2]
    evidence = SignalEvidence(name, delay, wired, signal, levels, timing, grounds)
    return LinePhysics(name, signal, levels, timing, grounds, judge(SIGNAL_RULES, evidence))


def _signal_and_timing(
    project: Project,
    vehicle: Vehicle,
    name: str,
    topology: LineTopology,
    progress: Callable[[str, int, int], bool] | None = None,
) -> tuple[Answer[LineSignal], Answer[LineTiming]]:
    """A line's signal, held against the sample point of its timing, and that timing."""
    line, answers = vehicle.lines[name], project.answers
    components, cable = components_on(vehicle, line), cable_of(vehicle, line)
    told = None if progress is None else lambda done, whole: progress(name, done, whole)
    signal = (
        line_signal(line, components, cable, topology, progress=told)
        if told
        else answers.ask(line_signal, line, components, cable, topology)
    )
    timing = answers.ask(line_timing, line, components, cable, topology, signal)
    return sampled(signal, timing), timing


def drawn(
    project: Project,
    name: str,
    draws: int,
    seed: int = SEED,
    progress: Callable[[str, int, int], bool] | None = None,
    faulty: FaultyLine | None = None,
) -> Answer[SignalDraws]:
    """One line, or the line with a fault, in many vehicles built from the same plan. ``progress`` hears (line, done, all)."""
    vehicle = faulty.vehicle if faulty else project.vehicle
    wired = Solved(faulty.topology) if faulty else project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return wired
    line = vehicle.lines[name]
    told = None if progress is None else lambda done, whole: progress(name, done, whole)
    signal, _ = _signal_and_timing(project, vehicle, name, wired.value)
    sample_s = None if isinstance(signal, Blocked) else signal.value.sample_s
    components, cable = components_on(vehicle, line), cable_of(vehicle, line)
    return signal_draws(line, components, cable, wired.value, draws, seed, sample_s=sample_s, progress=told)


def waveform(project: Project, name: str, sender: str, receiver: str) -> Answer[Trace]:
    """The waveform of one sender at one receiver, at typical values. Raises ``NoSuchPairError``."""
    vehicle = project.vehicle
    if name not in vehicle.lines:
        raise NoSuchPairError(f"there is no line {name!r}; there are {', '.join(vehicle.lines)}")
    line = vehicle.lines[name]
    ports = [station.port for station in line.stations if station.port]
    for port in (sender, receiver):
        if port not in ports:
            raise NoSuchPairError(f"{port!r} is not on line {name}; there are {', '.join(ports)}")
    wired = project.answers.topology(vehicle, name)
    if isinstance(wired, Blocked):
        return wired
    return project.answers.ask(
        trace, line, components_on(vehicle, line), cable_of(vehicle, line), wired.value, sender, receiver
    )
