"""Command: what is said on each line, who hears it, and is it there in time?"""

from collections.abc import Callable
from dataclasses import dataclass

from loomwright.app.project import Project
from loomwright.judge.rule import judge
from loomwright.judge.rules.traffic_play import PLAY_RULES
from loomwright.model.speech import speech_of
from loomwright.model.variant import disturbed
from loomwright.model.vehicle import Vehicle
from loomwright.solve.chains import ChainTimes
from loomwright.solve.load import LineLoad, StateLoad, least_load
from loomwright.solve.responses import LineResponses
from loomwright.solve.simulated import LinePlay, line_play
from loomwright.solve.streams import Stream
from loomwright.solve.traffic_margins import LineMargins, line_margins
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.fact import value_of
from loomwright.terms.finding import Finding

LEFT_OUT = (
    "Bounds hold as long as nobody sends what is not written down. Left out: nodes that restart, disturbed frames (unless "
    "a line's errors_at_once says how many), and the time inside a sender or receiver beyond its jitter and cycle. FD frames "
    "are taken to switch to the data bit rate, pages of a message to be sent in turn."
)


class NoSuchLineError(LoomwrightError):
    """A line, chain or state that the vehicle does not have."""


@dataclass(frozen=True, slots=True)
class LineTraffic:
    """One line: what it carries, how full it is, how late things are, and what is left.

    ``least`` stands in for a load that waits for facts: the least it is, and the messages that are not counted.
    """

    name: str
    streams: tuple[Stream, ...]
    load: Answer[LineLoad]
    least: tuple[StateLoad, tuple[str, ...]] | None
    responses: Answer[LineResponses]
    margins: Answer[LineMargins] | None
    play: Answer[LinePlay] | None
    bit_rate_bit_per_s: float | None


@dataclass(frozen=True, slots=True)
class ChainReport:
    """A chain's times beside what it may take; ``within_s`` is ``None`` where that is unknown."""

    name: str
    title: str
    within_s: float | None
    times: Answer[ChainTimes]


@dataclass(frozen=True, slots=True)
class TrafficReport:
    """Lines, chains and findings of a vehicle's traffic."""

    lines: tuple[LineTraffic, ...]
    chains: tuple[ChainReport, ...]
    findings: tuple[Finding, ...]


def traffic_report(
    project: Project,
    only: str = "",
    *,
    margins: bool = False,
    seconds: float = 0.0,
    seed: int = 1,
    errors: int | None = None,
    progress: Callable[[str, int, int], bool] | None = None,
) -> TrafficReport:
    """Answer and judge the traffic of one line or of all; with margins, and played for some seconds, if wanted.

    ``errors``: the same vehicle with so many disturbed frames at once on every line, whatever its files say.
    """
    vehicle = project.vehicle if errors is None else disturbed(project.vehicle, errors)
    if only and only not in vehicle.lines:
        raise NoSuchLineError(f"there is no line {only!r}; there are {', '.join(vehicle.lines) or 'none'}")
    found = project.answers.traffic(vehicle)
    speech = speech_of(vehicle)
    lines = []
    for name in vehicle.lines:
        if only not in ("", name):
            continue
        own, answer = found.on(name), found.responses[name]

        def told(done: int, whole: int, name: str = name) -> bool:
            return progress is None or progress(name, done, whole)

        def played(share: float, name: str = name) -> bool:
            return progress is None or progress(name, round(1000 * share), 1000)

        state = speech.states[0] if speech.states else ""
        if seconds:
            state = _fullest(found.loads[name], state)
        lines.append(
            LineTraffic(
                name,
                own,
                load := found.loads[name],
                least_load(speech, name, own) if isinstance(load, Blocked) else None,
                answer,
                line_margins(speech, name, own, answer, told) if margins else None,
                line_play(speech, name, answer, state, seconds, seed, played) if seconds else None,
                value_of(vehicle.lines[name].bit_rate_bit_per_s),
            )
        )
    findings = tuple(
        finding for finding in project.answers.marked_traffic(vehicle) if only in ("", finding.reading.line)
    )
    plays = [one.play.value for one in lines if isinstance(one.play, Solved)]
    findings += tuple(finding for play in plays for finding in judge(PLAY_RULES, play))
    return TrafficReport(tuple(lines), chain_reports(project, vehicle=vehicle) if not only else (), findings)


def chain_reports(project: Project, only: str = "", vehicle: Vehicle | None = None) -> tuple[ChainReport, ...]:
    """Every chain, or one; of the project's vehicle or of a variant."""
    vehicle = project.vehicle if vehicle is None else vehicle
    if only and only not in vehicle.chains:
        raise NoSuchLineError(f"there is no chain {only!r}; there are {', '.join(vehicle.chains) or 'none'}")
    found = project.answers.traffic(vehicle).chains
    return tuple(
        ChainReport(name, chain.title or name, value_of(chain.within_s), found[name])
        for name, chain in vehicle.chains.items()
        if only in ("", name)
    )


def _fullest(load: Answer[LineLoad], otherwise: str) -> str:
    return otherwise if isinstance(load, Blocked) else load.value.fullest.state
