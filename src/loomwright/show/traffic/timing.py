"""The timing chart of a line: when each of its messages arrives at the best and at the worst, and by when it must."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from loomwright.model.vehicle import Vehicle
from loomwright.show.lettering import figures_px, words_px
from loomwright.show.marks import verdict_mark, worst
from loomwright.show.names import component_title
from loomwright.show.quantity import bare, fact_text, number
from loomwright.show.quantity import text as quantity
from loomwright.show.svg import box, drawing, group, line, polyline, tag, words
from loomwright.show.traffic.parts import MARGIN, WIDTH, fitted, hatched, head, hue_of, round_step, tally, ticks
from loomwright.show.words import finding_sentence
from loomwright.solve.load import LineLoad
from loomwright.solve.responses import LineResponses, Response
from loomwright.terms.finding import Finding, Verdict
from loomwright.terms.quantity import Kind

ROW = 16.0
GROUP = 5
"""Rows between hairlines, as printed tables are set."""

SMALL = 10.5
HALF = 3.5
"""Half the height of a bar, in pixels."""


@dataclass(frozen=True, slots=True)
class _Page:
    """Where the columns stand, and what the rows share. Positions in pixels."""

    vehicle: Vehicle
    line: str
    hue: int
    name_x: float
    sender_x: float
    left: float
    right: float
    due_x: float
    share_x: float
    share_px: float
    share_end: float
    verdict_x: float
    width: float
    end_s: float
    fullest: float

    @property
    def decimals(self) -> int:
        """Decimals of a millisecond that can be told apart on this axis."""
        return 2 if self.end_s < 0.02 else 1 if self.end_s < 0.2 else 0

    def x(self, time_s: float) -> float:
        """A time on the sheet, at the most the end of the axis."""
        return self.left + min(time_s, self.end_s) / self.end_s * (self.right - self.left)


def timing_chart(
    vehicle: Vehicle,
    line: str,
    responses: LineResponses,
    load: LineLoad,
    findings: tuple[Finding, ...],
    *,
    standalone: bool = True,
    width: float = WIDTH,
) -> str:
    """A line's messages in the order in which the wire prefers them, ``width`` pixels wide, as SVG.

    Each row: identifier, name, sender; a bar from the best to the worst response, hatched for what a line before may
    have cost; a flag for the deadline, which is a figure with an arrow where it is beyond the axis; the share of the
    line's time, mean filled and worst outlined. Rows that do not hold carry their verdict in shape and word.
    """
    rows = responses.responses
    shares = _shares(load)
    own = tuple(finding for finding in findings if finding.reading.line == line and finding.rule == "in-time")
    by_row: dict[tuple[object, object], list[Finding]] = {}
    for finding in own:
        part = dict(finding.reading.because).get("part", "")
        by_row.setdefault((finding.reading.subject, part), []).append(finding)
    loud = any(worst(of_row) not in (None, Verdict.HOLDS) for of_row in by_row.values())
    page = _page(vehicle, line, rows, shares, width, verdicts=loud)
    title = vehicle.lines[line].title or line
    full = f"{quantity(load.fullest.mean, Kind.RATIO)} full in the mean" if load.states else ""
    rate = fact_text(vehicle.lines[line].bit_rate_bit_per_s, Kind.BIT_RATE)
    told = " · ".join(part for part in (rate, f"{len(rows)} kinds of frame", full) if part)
    top, y = head(title, told, page.hue, standalone=standalone)
    shapes = [group(("lines", line), top, tally(own, width - MARGIN, 34.0 if standalone else 21.0, "in time:"))]
    y += 26.0
    bottom = y + ROW * len(rows)
    shapes.append(_frame(page, y, bottom, len(rows)))
    for index, each in enumerate(rows):
        middle = y + ROW * (index + 0.5)
        told_of = by_row.get((each.stream.path, each.stream.part), [])
        shapes.append(_row(page, each, shares.get(each.stream.name, (0.0, 0.0)), told_of, middle))
    if not rows:
        empty = "Nothing is said on this line yet: its stations' messages are listed in the project's messages."
        shapes.append(words((MARGIN, y + 12), empty, "muted"))
        bottom = y + 20.0
    else:
        shapes.append(_legend(page, bottom + 24.0))
        bottom += 34.0
    return drawing(width, bottom + 12.0, f"{title}: times of its messages", *shapes, standalone=standalone)


def _shares(load: LineLoad) -> dict[str, tuple[float, float]]:
    """By stream its mean and worst share of the line's time, each in the state where it is largest."""
    found: dict[str, tuple[float, float]] = {}
    for state in load.states:
        for share in state.streams:
            mean, most = found.get(share.name, (0.0, 0.0))
            found[share.name] = (max(mean, share.mean), max(most, share.worst))
    return found


def _page(
    vehicle: Vehicle,
    line: str,
    rows: tuple[Response, ...],
    shares: dict[str, tuple[float, float]],
    width: float,
    *,
    verdicts: bool,
) -> _Page:
    wide = width >= 1100.0
    digits = max((8 if each.stream.extended else 3 for each in rows), default=3)
    name_x = MARGIN + figures_px("0" * digits, SMALL) + 12.0
    sender_x = name_x + (224.0 if wide else 168.0)
    left = sender_x + (190.0 if wide else 118.0)
    verdict_x = width - MARGIN - (58.0 if verdicts else -8.0)
    share_px = 80.0 if wide else 52.0
    share_end = verdict_x - 8.0
    share_x = share_end - share_px - 38.0
    due_x = share_x - 14.0
    fullest = max((most for _, most in shares.values()), default=0.0)
    return _Page(
        vehicle,
        line,
        hue_of(vehicle, line),
        name_x,
        sender_x,
        left,
        due_x - 58.0,
        due_x,
        share_x,
        share_px,
        share_end,
        verdict_x,
        width,
        _end_s(rows),
        fullest or 1.0,
    )


def _end_s(rows: tuple[Response, ...]) -> float:
    """The end of the time axis: room for the longest bounded response and its figure, and for the deadlines near it."""
    longest = max((each.worst_s for each in rows if math.isfinite(each.worst_s)), default=0.0)
    near = max((each.deadline_s for each in rows if each.deadline_s <= 1.5 * longest), default=0.0)
    end = max(1.25 * longest, 1.05 * near) or 1e-3
    step = round_step(end, 10)
    return math.ceil(end / step - 1e-9) * step


def _frame(page: _Page, top: float, bottom: float, count: int) -> str:
    """Heads of the columns, the time axis above and below, and a hairline after every few rows."""
    y = top - 10.0
    shapes = [
        words((MARGIN, y), "id", "muted", size=SMALL),
        words((page.name_x, y), "message", "muted", size=SMALL),
        words((page.sender_x, y), "sent by", "muted", size=SMALL),
        words((page.due_x, y), "due by", "muted", size=SMALL, anchor="end"),
        words((page.share_end, y), "share of time, %", "muted", size=SMALL, anchor="end"),
    ]
    for index in range(0, count + 1, GROUP):
        level = top + index * ROW
        shapes.append(line((MARGIN, level), (page.width - MARGIN, level), "fine"))
    if count % GROUP:
        shapes.append(line((MARGIN, bottom), (page.width - MARGIN, bottom), "fine"))
    if count:
        for time_s in ticks(page.end_s, 8 if page.right - page.left > 420.0 else 6):
            x = page.x(time_s)
            shapes.append(line((x, top - 4), (x, bottom + 4), "fine"))
            figure = bare(time_s, Kind.TIME, "ms") + (" ms" if time_s == 0.0 else "")
            shapes.append(words((x, y), figure, "figure muted", size=9.5, anchor="middle"))
    return "".join(shapes)


def _row(page: _Page, each: Response, share: tuple[float, float], findings: list[Finding], y: float) -> str:
    stream = each.stream
    base = y + 3.8
    identifier = "?" if stream.identifier is None else f"{stream.identifier:0{8 if stream.extended else 3}X}"
    shapes = [words((MARGIN, base), identifier, "figure", size=SMALL), _name(page, each, base)]
    component = stream.sender.partition(".")[0]
    sender = component_title(component, page.vehicle.components.get(component))
    fit = page.left - page.sender_x - 12.0
    shapes.append(words((page.sender_x, base), fitted(sender, fit, SMALL), "muted", size=SMALL))
    shapes += [_bar(page, each, y), _deadline(page, each, y), _share(page, share, y)]
    verdict = worst(findings)
    if verdict is not None and verdict is not Verdict.HOLDS:
        shapes.append(verdict_mark((page.verdict_x + 5.0, y), verdict, 4.0))
        shapes.append(words((page.verdict_x + 14.0, base), verdict.value, verdict.value, size=SMALL))
    said = [f"{identifier} {stream.name}, sent by {stream.sender}", _told(each)]
    said += [finding_sentence(item) for item in findings]
    return group(stream.path, *shapes, title="\n".join(said))


def _told(each: Response) -> str:
    """A row's figures in words, for those who hover or cannot see."""
    arrives = "has no bound" if math.isinf(each.worst_s) else f"{quantity(each.worst_s, Kind.TIME)} at the worst"
    text = f"{quantity(each.best_s, Kind.TIME)} at the best, {arrives}; due by {quantity(each.deadline_s, Kind.TIME)}"
    return text + (f"; {quantity(each.due_s, Kind.TIME)} of it on lines before" if each.due_s else "")


def _name(page: _Page, each: Response, base: float) -> str:
    """The message's name, its file before it where there is room and where it is not the sender's own."""
    stream = each.stream
    file, _, name = stream.message.partition(".")
    name += f" ({stream.part})" if stream.part else ""
    room = page.sender_x - page.name_x - 10.0
    before = f"{file}."
    wide = words_px(before, SMALL)
    if file == stream.sender.partition(".")[0] or wide + words_px(name, SMALL) > room:
        return words((page.name_x, base), fitted(name, room, SMALL), size=SMALL)
    return words((page.name_x, base), before, "muted", size=SMALL) + words((page.name_x + wide, base), name, size=SMALL)


def _bar(page: _Page, each: Response, y: float) -> str:
    """From best to worst: hatched for the lines before, filled for this one, a firm stroke at the worst."""
    first, last = page.x(each.best_s), page.x(each.worst_s)
    split = min(max(page.x(each.due_s), first), last) if each.due_s else first
    shapes = []
    if split > first:
        shapes.append(hatched(first, y - HALF, split - first, 2 * HALF, f"fine hue-{page.hue}"))
        shapes.append(box(first, y - HALF, split - first, 2 * HALF, f"fine hue-{page.hue}"))
    shapes.append(box(split, y - HALF, max(last - split, 1.0), 2 * HALF, f"bar ink-{page.hue}"))
    if math.isinf(each.worst_s):
        arrow = ((last - 4, y - 5), (last + 2, y), (last - 4, y + 5))
        shapes.append(polyline(arrow, f"fine hue-{page.hue}"))
        shapes.append(words((last - 8, y + 3.5), "no bound", "small", size=9.5, anchor="end"))
        return "".join(shapes)
    shapes.append(box(last - 1.0, y - HALF - 1.0, 2.0, 2 * HALF + 2.0, f"ink-{page.hue}"))
    flag = page.x(each.deadline_s) if each.deadline_s <= page.end_s else math.inf
    text = number(each.here_s * 1e3, page.decimals)
    if each.due_s:  # what the line before cost, and what this one costs: the same two figures as in the tables
        text = f"{number(each.due_s * 1e3, page.decimals)} + {text}"
    x = last + 5.0
    if x - 2.0 <= flag <= x + figures_px(text, 9.5) + 3.0:
        x = flag + 8.0
    shapes.append(words((x, y + 3.4), text, "figure halo", size=9.5))
    return "".join(shapes)


def _deadline(page: _Page, each: Response, y: float) -> str:
    """A flag at the deadline, or an arrow to it; its figure in the column."""
    late = each.due_s and math.isfinite(each.due_s)
    told = f"+ {quantity(each.wanted_s, Kind.TIME)}" if late else quantity(each.deadline_s, Kind.TIME)
    figure = words((page.due_x, y + 3.6), told, "figure muted", size=9.5, anchor="end")
    far = each.deadline_s > page.end_s
    return figure + (_arrow(page.right + 5.0, y) if far else _flag(page.x(each.deadline_s), y))


def _share(page: _Page, share: tuple[float, float], y: float) -> str:
    """Share of the line's time: mean filled, worst outlined, the mean's figure."""
    mean, most = (part / page.fullest * page.share_px for part in share)
    shapes = [
        box(page.share_x, y - 3.0, mean, 6.0, f"bar ink-{page.hue}") if mean else "",
        box(page.share_x, y - 3.0, max(most, 0.5), 6.0, f"fine hue-{page.hue}"),
    ]
    if share[0] or not share[1]:
        figure = words((page.share_end, y + 3.6), number(share[0] * 100.0, 2), "figure muted", size=9.5, anchor="end")
    else:
        figure = words((page.share_end, y + 3.6), "event", "muted", size=9.5, anchor="end")
    shapes.append(figure)
    return "".join(shapes)


def _legend(page: _Page, y: float) -> str:
    """What the shapes mean."""
    fine, bar = f"fine hue-{page.hue}", f"bar ink-{page.hue}"
    signs: tuple[tuple[Callable[[float], str], str], ...] = (
        (lambda x: box(x, y - 7, 22, 7, bar) + box(x + 20, y - 8, 2, 9, f"ink-{page.hue}"), "best to worst"),
        (lambda x: hatched(x, y - 7, 22, 7, fine) + box(x, y - 7, 22, 7, fine), "lost on lines before"),
        (lambda x: _flag(x + 10, y - 4), "due by"),
        (lambda x: _arrow(x + 12, y - 4), "due beyond the axis"),
        (lambda x: box(x, y - 7, 14, 6, bar) + box(x, y - 7, 22, 6, fine), "share: mean, and worst as outline"),
    )
    shapes, x = [], page.name_x
    for sign, text in signs:
        if x + 28 + words_px(text, SMALL) > page.width:
            break
        shapes += [sign(x), words((x + 28, y), text, "muted", size=SMALL)]
        x += 28 + words_px(text, SMALL) + 20
    return "".join(shapes)


def _flag(x: float, y: float) -> str:
    cloth = tag("path", d=f"M{x:.2f} {y - 7:.2f} h5 l-5 5 Z", class_="solid")
    return line((x, y - 7), (x, y + 7), "rule") + cloth


def _arrow(x: float, y: float) -> str:
    return tag("path", d=f"M{x:.2f} {y - 3:.2f} l5 3 l-5 3 Z", class_="solid")
