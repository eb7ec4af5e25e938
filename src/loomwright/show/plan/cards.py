"""What stands on the plan in words: a card for each place that holds something, a label at each end of a line."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.show.handles import handle
from loomwright.show.lettering import shortened, words_px
from loomwright.show.marks import padlock_mark, plug_mark, touching, verdict_mark, worst
from loomwright.show.names import component_title
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import Point, box, group, line, words
from loomwright.solve.topology import LineTopology, Stop
from loomwright.terms.change import Path
from loomwright.terms.fact import value_of
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.quantity import Kind

SIZE = 11.0
ROW = 17.0
PAD = 6.0
LETTERS = 30


@dataclass(frozen=True, slots=True)
class Row:
    """One named thing on a card."""

    path: Path
    text: str
    title: str = ""
    hues: tuple[int, ...] = ()
    plug: bool = False
    verdict: Verdict | None = None
    strong: bool = False
    locks: tuple[tuple[Path, str], ...] = ()
    name: str = ""
    place: str = ""

    @property
    def width(self) -> float:
        """Pixels from edge to edge."""
        hues, plug = 7.0 * len(self.hues) + (4.0 if self.hues else 0.0), 14.0 if self.plug else 0.0
        mark = (15.0 if self.verdict else 0.0) + 12.0 * len(self.locks)
        return 2 * PAD + hues + plug + mark + words_px(self.text, SIZE, strong=self.strong)


@dataclass(frozen=True, slots=True)
class Card:
    """Rows that belong to one spot. A card without frame is the label of a line's end."""

    spot: Point
    rows: tuple[Row, ...]
    framed: bool = True
    hue: int = 0

    @property
    def width(self) -> float:
        """Pixels from edge to edge."""
        return max(row.width for row in self.rows)

    @property
    def height(self) -> float:
        """Pixels from edge to edge."""
        return ROW * len(self.rows)


def component_cards(
    vehicle: Vehicle,
    spots: Mapping[str, Point],
    hues: Mapping[str, int],
    lines_on: Mapping[str, tuple[str, ...]],
    findings: Collection[Finding],
    judged: Mapping[str, tuple[Path, ...]],
    emphasis: str = "",
) -> tuple[Card, ...]:
    """One card for every place with components; several at one place are rows of the same card.

    ``judged`` names for each component the stations at which it stands: a finding about one of these is its own.
    With ``emphasis`` only components on that line get one.
    """
    rows: dict[str, list[Row]] = {}
    locks = _locks(vehicle)
    for name, component in vehicle.components.items():
        if emphasis and emphasis not in lines_on.get(name, ()):
            continue
        path: Path = ("components", name)
        paths = (path, *judged.get(name, ()))
        verdict = worst([finding for own in paths for finding in touching(findings, own)])
        title = component_title(name, component)
        on = lines_on.get(name, ())
        said = ", ".join([title, component.role, *(vehicle.lines[item].title or item for item in on)])
        plug = component.role == "service plug"
        shown = None if verdict is Verdict.HOLDS else verdict
        hued = tuple(hues[item] for item in on)
        row = Row(path, shortened(title, LETTERS), said, hued, plug, shown, False, locks.get(name, ()), name,
                  component.place)  # fmt: skip
        rows.setdefault(component.place, []).append(row)
    return tuple(Card(spots[place], tuple(found)) for place, found in rows.items() if place in spots)


def _locks(vehicle: Vehicle) -> dict[str, tuple[tuple[Path, str], ...]]:
    """For each component its locks: path, and what is held for which reason."""
    found: dict[str, tuple[tuple[Path, str], ...]] = {}
    for name, lock in vehicle.locks.items():
        held = " ".join(part for part in ("locked:", lock.port, "must", lock.must, lock.line, lock.other) if part)
        said = f"{held}. {lock.why}" if lock.why else held
        component = lock.port.partition(".")[0]
        found[component] = (*found.get(component, ()), (("locks", name), said))
    return found


def end_cards(
    name: str, title: str, hue: int, topology: LineTopology, ends: Mapping[int, Point], verdict: Verdict | None
) -> tuple[Card, ...]:
    """The line's name at its first and last stop, and the ohms of every termination that is on."""
    cards = []
    stops = topology.stops
    for stop in stops:
        outer = stop.index in (0, stops[-1].index)
        ohms = termination_text(stop)
        parts = [part for part in (title if outer else "", ohms) if part]
        if not parts:
            continue
        path: Path = ("lines", name, "stations", stop.index)
        said = f"{title}, {'end' if outer else 'stop'} {stop.index + 1}" + (f", termination {ohms}" if ohms else "")
        row = Row(path, shortened(" · ".join(parts), LETTERS), said, strong=True, verdict=verdict if outer else None)
        cards.append(Card(ends[stop.index], (row,), framed=False, hue=hue))
    return tuple(cards)


def termination_text(stop: Stop) -> str:
    """The ohms of a termination that is on, a question mark where it is not known whether there is one."""
    if stop.termination == "unknown":
        return "terminated?"
    return quantity(value_of(stop.termination_ohm), Kind.RESISTANCE) if stop.termination == "on" else ""


def draw_card(card: Card, corner: Point, lit: Collection[Path], *, handles: bool = False) -> str:
    """A card at its corner: frame, a row for each thing, hairlines between rows."""
    x, y = corner
    parts = [box(x, y, card.width, card.height, "card", 3.0)] if card.framed else []
    for number, row in enumerate(card.rows):
        top = y + number * ROW
        if number:
            parts.append(line((x, top), (x + card.width, top), "fine"))
        parts.append(_draw_row(card, row, (x, top), row.path in lit, handles=handles and row.name != ""))
    return "".join(parts)


def _draw_row(card: Card, row: Row, corner: Point, lit: bool, *, handles: bool) -> str:
    x, middle = corner[0] + PAD, corner[1] + ROW / 2
    parts = [box(corner[0] + 0.5, corner[1] + 0.5, card.width - 1, ROW - 1, "card lit", 3.0)] if lit else []
    if handles:
        parts.append(box(corner[0], corner[1], card.width, ROW, "hit", 3.0))
    for hue in row.hues:
        parts.append(box(x, middle - 5, 4.5, 10, f"ink-{hue}"))
        x += 7.0
    if row.hues:
        x += 4.0
    if row.plug:
        parts.append(plug_mark((x + 5, middle)))
        x += 14.0
    style = "strong" if row.strong else ""
    if not card.framed:
        style += f" halo ink-{card.hue}"
    parts.append(words((x, middle + SIZE * 0.36), row.text, style.strip(), size=SIZE))
    right = corner[0] + card.width - PAD - 4
    if row.verdict:
        parts.append(verdict_mark((right, middle), row.verdict))
        right -= 15.0
    for path, said in row.locks:
        parts.append(group(path, padlock_mark((right, middle - 1)), title=said, class_="lock"))
        right -= 12.0
    more = {**handle("component", row.title), "data_place": row.place} if handles else {}
    return group(row.path, *parts, title=row.title, class_="lit" if lit else "thing", **more)
