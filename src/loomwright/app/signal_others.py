"""What else is broken on a line beside its bits: the same count and the same names for a page and a terminal."""

from dataclasses import dataclass

from loomwright.app.margin import row_of
from loomwright.app.project import Project
from loomwright.app.signal import LinePhysics
from loomwright.judge import LINE_RULES
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title
from loomwright.show.rule_words import rule_title
from loomwright.show.words import path_words
from loomwright.terms.change import Path
from loomwright.terms.finding import Finding, Verdict, Weight

NAMED = 3
"""So many of the others are named; the rest is counted."""
_OF_LINES = frozenset(rule.code for rule in LINE_RULES)
_NEAREST = (
    ("way-exists",),
    ("station-once",),
    ("two-terminations", "terminations-at-ends", "fixed-terminator-mid-trunk", "terminator-value"),
    ("line-resistance",),
    ("cable-impedance",),
    ("branch-reaches", "branch-length", "branches-total", "branch-by-propagation", "branches-by-propagation"),
    ("trunk-length", "station-spacing"),
)
"""What an edge meets first, in groups of rules that speak of one thing."""


@dataclass(frozen=True, slots=True)
class Other:
    """A broken finding named beside the bits; ``id`` is where the margin has it."""

    id: str
    title: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Others:
    """How many signal checks hold, and what else of the line is broken: in words, the nearest named, the rest counted."""

    holding: str
    broken: str
    named: tuple[Other, ...]
    more: str

    @property
    def sentence(self) -> str:
        """All of it in a line, for a terminal."""
        told = [f"{self.holding}."] if self.holding else []
        if self.named:
            told.append(f"{self.broken} {', '.join(other.title for other in self.named)}{self.more}.")
        return " ".join(told)


def of_line(project: Project, name: str) -> tuple[Finding, ...]:
    """All findings of a line's wiring that count, whatever their verdict; without those of its bits."""
    return tuple(
        finding
        for finding in project.answers.findings(project.vehicle)
        if finding.reading.line == name
        and finding.rule in _OF_LINES
        and finding.reading.weight is Weight.GOVERNS
        and not finding.accepted
    )


def others(project: Project, name: str, physics: LinePhysics) -> Others:
    """The other findings of a line beside those of its bits."""
    found = tuple(finding for finding in of_line(project, name) if finding.verdict is Verdict.BROKEN)
    named = tuple(
        Other(row.id, row.rule_title, row.sentence)
        for row in (row_of(finding, project.vehicle) for finding in _nearest(found))
    )
    count = len(found)
    counted = (
        "1 other finding on this line is broken:" if count == 1 else f"{count} other findings on this line are broken:"
    )
    return Others(
        holding(physics),
        counted if count else "",
        named,
        f" and {count - len(named)} more" if count > len(named) else "",
    )


def holding(physics: LinePhysics) -> str:
    """How many of the signal checks hold that count, and how many do not; nothing where none could be made."""
    verdicts = [own.verdict for own in physics.findings if own.reading.weight is Weight.GOVERNS]
    if set(verdicts) <= {Verdict.UNKNOWN}:
        return ""
    parts = []
    for verdict, one, more in (
        (Verdict.BROKEN, "is broken", "are broken"),
        (Verdict.UNKNOWN, "is unknown", "are unknown"),
        (Verdict.TIGHT, "is tight", "are tight"),
    ):
        if count := verdicts.count(verdict):
            parts.append(f"{count} {one if count == 1 else more}")
    held = verdicts.count(Verdict.HOLDS)
    told = f"{held} signal check{'' if held == 1 else 's'} hold{'s' if held == 1 else ''}"
    return ", ".join((told, *parts))


def thing_words(vehicle: Vehicle, path: Path) -> str:
    """What a missing fact is about, by the name that stands on the thing; a station has none but its component's."""
    if len(path) != 4 or path[0] != "lines" or path[2] != "stations" or not isinstance(path[3], int):
        owner = vehicle.components.get(str(path[1])) if len(path) == 3 and path[0] == "components" else None
        told = path_words(path)
        return told if owner is None else told.replace(f"component {path[1]}", component_title(str(path[1]), owner))
    station = vehicle.lines[str(path[1])].stations[path[3]]
    if not station.port:
        return f"the way to the terminator at {station.at}"
    component = station.port.partition(".")[0]
    owner = vehicle.components.get(component)
    place = station.at or (owner.place if owner else "")
    where = vehicle.places[place].title or place if place in vehicle.places else place
    title = component_title(component, owner)
    return f"the way to {title} ({station.port}{f', at {where}' if where else ''})"


def why_blocked(vehicle: Vehicle, by: tuple[Path, ...]) -> str:
    """Why nobody can say whether bits arrive: what is missing, by name."""
    missing = " and ".join(dict.fromkeys(thing_words(vehicle, path) for path in by))
    return f"Nobody can say yet whether bits arrive on this line. Look up: {missing}. Nothing is guessed."


def _nearest(found: tuple[Finding, ...]) -> list[Finding]:
    """One of each group as far as there are any, then the rest as the rules stand."""
    first = []
    for group in _NEAREST:
        own = sorted((f for f in found if f.rule in group), key=lambda f: group.index(f.rule))
        first += own[:1]
    titles = {rule_title(finding.rule) for finding in first}
    rest = [finding for finding in found if finding not in first and rule_title(finding.rule) not in titles]
    return [*first, *rest][:NAMED]
