"""Command: what would put the messages of a line in time: other identifiers, offsets, a component on another line."""

from collections.abc import Callable
from dataclasses import dataclass

from loomwright.app.project import Project, open_project
from loomwright.app.traffic import NoSuchLineError
from loomwright.engines.response_times import StoppedError
from loomwright.files import write
from loomwright.model.speech import speech_of
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.propose.traffic_identifiers import IdentifierProposal, identifiers
from loomwright.propose.traffic_judged import Judged
from loomwright.propose.traffic_moves import Moves, is_pressed, moves
from loomwright.propose.traffic_offsets import SenderOffsets, offsets
from loomwright.terms.answer import Answer
from loomwright.terms.change import Change
from loomwright.terms.finding import Finding, Verdict, Weight

Progress = Callable[[str, int, int], bool]


@dataclass(frozen=True, slots=True)
class TrafficProposal:
    """What was found for one line.

    ``identifiers`` and ``moves`` hold changes that were judged; ``offsets`` is plain advice. ``None``: not looked for, or
    stopped before it was found. Moves are looked for where a line is too full or late, or where it was named.
    """

    name: str
    identifiers: IdentifierProposal | None
    offsets: Answer[tuple[SenderOffsets, ...]] | None
    moves: Moves | None
    stopped: bool = False

    @property
    def changes(self) -> tuple[Change, ...]:
        """Every change that can be taken, the identifiers' first."""
        own = self.identifiers.change if self.identifiers is not None else None
        moved = self.moves.offered if self.moves is not None else ()
        return (*((own,) if own is not None else ()), *(move.change for move in moved))


def traffic_proposals(
    project: Project, line: str | None = None, progress: Progress | None = None, *, firmer: bool = False
) -> tuple[TrafficProposal, ...]:
    """Look for what helps one line, or every line, each for itself: changes are not added up.

    ``firmer``: other identifiers also where all is in time, for the most to spare. ``progress`` hears (what, done, all)
    and stops the work by returning false; what was found until then is returned. Raises NoSuchLineError.
    """
    vehicle = project.vehicle
    if line and line not in vehicle.lines:
        raise NoSuchLineError(f"there is no line {line!r}; there are {', '.join(vehicle.lines) or 'none'}")

    def ask(tried: Vehicle) -> Judged:
        return Judged(project.answers.traffic(tried), project.answers.findings(tried))

    before = ask(vehicle)
    found: list[TrafficProposal] = []
    for name in (line,) if line else tuple(vehicle.lines):
        found.append(_proposal(vehicle, name, before, ask, progress, firmer=firmer, named=bool(line)))
        if found[-1].stopped:
            break
    return tuple(found)


def _proposal(
    vehicle: Vehicle,
    name: str,
    before: Judged,
    ask: Callable[[Vehicle], Judged],
    progress: Progress | None,
    *,
    firmer: bool,
    named: bool,
) -> TrafficProposal:
    def told(what: str) -> Callable[[int, int], bool]:
        return lambda done, whole: progress is None or progress(f"{what} of line {name}", done, whole)

    chosen: IdentifierProposal | None = None
    spread: Answer[tuple[SenderOffsets, ...]] | None = None
    try:
        chosen = identifiers(vehicle, name, before, ask, firmer=firmer, told=told("identifiers"))
        spread = offsets(speech_of(vehicle), name, before.traffic.on(name), told("offsets"))
    except StoppedError:
        return TrafficProposal(name, chosen, spread, None, stopped=True)
    if not (named or is_pressed(before.traffic, before, name)):
        return TrafficProposal(name, chosen, spread, None)
    # A search that was stopped says so itself, and keeps what it found.
    moved = moves(vehicle, name, before, ask, told("moves"))
    return TrafficProposal(name, chosen, spread, moved, stopped=moved.stopped)


def write_identifiers(project: Project, found: tuple[TrafficProposal, ...]) -> tuple[str, ...]:
    """Write the identifiers that were proposed, each line's by itself; the files that were written.

    What a line's change was judged with is the vehicle before the others' changes; so each is judged once more before it
    is written, and left where something would get worse.
    """
    written: list[str] = []
    for proposal in found:
        change = proposal.identifiers.change if proposal.identifiers is not None else None
        if change is None:
            continue
        before, after = (
            project.answers.findings(project.vehicle),
            project.answers.findings(changed(project.vehicle, change)),
        )
        if _broken(after) <= _broken(before):
            written += write(project.folder, project.loaded, change).files
            project = open_project(project.folder)
    return tuple(dict.fromkeys(written))


def _broken(findings: tuple[Finding, ...]) -> int:
    counting = (item for item in findings if item.reading.weight is Weight.GOVERNS and not item.accepted)
    return sum(item.verdict in (Verdict.BROKEN, Verdict.UNKNOWN) for item in counting)
