"""How to find a fault of a line with a meter, in words: cautions, walks along the line, what reads what, what is left."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from loomwright.model.fault import Fault, FaultKind
from loomwright.show.fault_words import Called, first_capital, open_end_words
from loomwright.show.quantity import span
from loomwright.show.quantity import text as quantity
from loomwright.show.words import path_words
from loomwright.solve.fault_finding import APART, FaultFinding, Look, Readings, Step
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.table import Table
    from rich.text import Text

SAFE = (
    "Supply off, everything asleep. Near high voltage somebody who is licensed for it switches off, locks, and verifies "
    "that none is there, before anybody measures; local rules go first."
)
PROBES = (
    "Look first: is every plug on, every terminator in its place, no cable chafed? Then measure ohms between the two bus "
    "wires: in a plug that is on from behind, in one that is off between its contacts."
)
THOUSANDS = (
    "Without a termination the electronics alone are left. Of these only a range is known, and a meter's own voltage shifts "
    "it: take whatever is over 1 kΩ as thousands of ohms."
)
ROUGH = 1.5
"""From this share between the lowest and the highest reading on, the range is told and not the typical figure."""
MANY = 3
"""More faults of a kind than this are told in one row, where they read alike."""


@dataclass(frozen=True, slots=True)
class StepShown:
    """A walk: what to do, then rows of what it may be and what reads then, the fault's own first; then what follows."""

    do: str
    rows: tuple[tuple[str, str], ...]
    then: str


@dataclass(frozen=True, slots=True)
class FindingShown:
    """How to find a fault. ``first`` are cautions, ``last`` is what no meter tells."""

    first: tuple[str, ...]
    steps: tuple[StepShown, ...]
    last: tuple[str, ...]


def finding_words(
    found: Answer[FaultFinding], fault: Fault, delay_s_per_m: float | None, called: Called
) -> FindingShown:
    """Word the walks. ``called`` names the stations of the line as drawn."""
    if isinstance(found, Blocked):
        waits = ", ".join(path_words(path) for path in found.by)
        return FindingShown((), (), (f"What a meter reads waits for {waits}.",))
    value = found.value
    eyes = _eyes(fault, delay_s_per_m, called)
    if not value.seen:
        same = _reads(value.sound)
        blind = f"The meter cannot see it: with it and without it reads the same at every place, {same}."
        return FindingShown((SAFE,), (), (blind, *eyes))
    last = list(eyes)
    if fault.kind is FaultKind.UNPLUGGED:
        last.append(f"Put it on and measure again: as drawn the line reads {_runs_text(value.sound, called)}.")
    elif value.left:
        last.append(f"The meter does not tell it from this: {_several(value.left, called)}. Follow the cable there.")
    shown = tuple(_step(own, value, called) for own in value.steps)
    rough = any(
        _is_rough(own) for step in value.steps for own in (step.readings, *(look.readings for look in step.others))
    )
    return FindingShown((SAFE, PROBES), shown, (*last, *((THOUSANDS,) if rough and len(value.steps) > 1 else ())))


def finding_text(shown: FindingShown) -> Iterator[Table | Text]:
    """The same for a terminal."""
    from rich.table import Table
    from rich.text import Text

    yield Text("How to find it:", style="bold")
    for own in shown.first:
        yield Text(f"  {own}")
    for number, step in enumerate(shown.steps, 1):
        yield Text(f"{number}. {step.do}")
        table = Table(box=None, pad_edge=False, show_header=False, padding=(0, 2, 0, 0))
        table.add_column(width=3)
        table.add_column(ratio=2, overflow="fold")
        table.add_column(ratio=3, overflow="fold")
        for row in step.rows:
            table.add_row("", *row)
        yield table
        if step.then:
            yield Text(f"   {step.then}")
    for own in shown.last:
        yield Text(f"  {own}")


def fault_label(fault: Fault | None, called: Called) -> str:
    """What a fault is in a row."""
    if fault is None:
        return "The line as drawn"
    name = called(fault.station)
    if fault.kind is FaultKind.NO_TERMINATOR:
        return (
            f"{first_capital(name)} missing" if name.startswith("the terminator") else f"Termination in {name} missing"
        )
    if fault.kind is FaultKind.OPEN_BRANCH:
        return f"Branch to {name} torn"
    if fault.kind is FaultKind.OPEN_TRUNK:
        return f"Trunk torn between {called(fault.station - 1)} and {name}"
    return {FaultKind.UNPLUGGED: f"Plug of {name} off", FaultKind.STUB: f"Forgotten lead at {name}"}[fault.kind]


def _eyes(fault: Fault, delay_s_per_m: float | None, called: Called) -> tuple[str, ...]:
    """What finds a fault that no meter sees."""
    where = called(fault.station)
    if fault.kind is FaultKind.UNPLUGGED:
        return (f"Eyes can: the plug of {where} is off, and nobody hears it on the line.",)
    if fault.kind is not FaultKind.STUB:
        return ()
    echo = ""
    if delay_s_per_m is not None:
        late = quantity(2.0 * fault.length_m * delay_s_per_m, Kind.TIME)
        echo = f" So can an oscilloscope: each edge comes back from the end of {open_end_words(fault, called)} {late} late."
    return (f"Eyes can: follow the cable at {where} to a lead that ends in nothing, behind trim and tape too.{echo}",)


def _step(step: Step, found: FaultFinding, called: Called) -> StepShown:
    own = fault_label(found.fault, called)
    if step.unplugged is None:
        rows = [(own, _runs_text(step.readings, called)), (fault_label(None, called), _runs_text(found.sound, called))]
        same = [look.fault for look in step.others if not look.apart and look.fault is not None]
        then = f"It reads nearly the same with: {_several(same, called)}." if same else "Nothing else reads like this."
        if found.fault.kind is FaultKind.OPEN_BRANCH and not same:
            then = "Nothing else reads like this: the one place that differs is behind the tear."
        return StepShown("Leave every plug on and measure at each place.", tuple(rows), then)
    name = called(step.unplugged)
    if found.fault.kind is FaultKind.OPEN_BRANCH and step.unplugged == found.fault.station and len(step.others) == 1:
        here = step.unplugged
        rows = [(own, _reads(step.readings[here : here + 1]))]
        rows += [(fault_label(look.fault, called), _reads(look.readings[here : here + 1])) for look in step.others]
        then = "If it reads as drawn there, the cable is whole and the fault is in the component."
        return StepShown(f"Take the plug of {name} off and measure in it.", tuple(rows), then)
    off = (
        f"Take {name} out, if it is there"
        if name.startswith("the terminator")
        else f"Take the plug of {name} off; its termination goes with it"
    )
    rows = [(own, _runs_text(step.readings, called)), *_other_rows(step.others, found.fault, called)]
    return StepShown(f"{off}. Measure in that plug and at each other place.", tuple(rows), _border(step, found, called))


def _border(step: Step, found: FaultFinding, called: Called) -> str:
    """Where the reading changes, if the trunk is torn there."""
    runs = _runs(step.readings)
    if found.fault.kind is not FaultKind.OPEN_TRUNK or len(runs) != 2:
        return ""
    before, after = runs[0][-1].stop, runs[1][0].stop
    return f"The tear is where the reading changes: between {called(before)} and {called(after)}."


def _other_rows(others: Sequence[Look], own: Fault, called: Called) -> Iterator[tuple[str, str]]:
    """What the look-alikes read; many tears of the trunk in one row, where the reading changes at each."""
    tears = [look for look in others if look.fault is not None and look.fault.kind is FaultKind.OPEN_TRUNK]
    joined = _tears_text(tears) if len(tears) > MANY else ""
    for look in others:
        if not (joined and look in tears):
            yield fault_label(look.fault, called), _runs_text(look.readings, called)
    if joined:
        other = "other " if own.kind is FaultKind.OPEN_TRUNK else ""
        yield f"Trunk torn at one of {len(tears)} {other}places", joined


def _tears_text(tears: Sequence[Look]) -> str:
    """Up to the tear and beyond it, over all tears; empty where not all of them read in that pattern."""
    runs = [_runs(look.readings) for look in tears]
    if any(len(own) != 2 for own in runs) or len({own[0][0].ohm > own[1][0].ohm for own in runs}) > 1:
        return ""
    first, second = (_reads(tuple(stop for own in runs for stop in own[side])) for side in (0, 1))
    return f"{first} up to the tear, {second} beyond it"


def _runs(readings: Readings) -> list[Readings]:
    """Neighbouring stations that read alike."""
    found = [[readings[0]]]
    for before, own in pairwise(readings):
        if _alike(before.ohm, own.ohm):
            found[-1].append(own)
        else:
            found.append([own])
    return [tuple(run) for run in found]


def _alike(one: float, other: float) -> bool:
    return one == other or (math.isfinite(one + other) and max(one, other) <= (1.0 + APART) * min(one, other))


def _runs_text(readings: Readings, called: Called) -> str:
    runs = _runs(readings)
    if len(runs) == 1:
        return f"{_reads(readings)} everywhere"
    if len(runs) == 3 and _alike(runs[0][0].ohm, runs[2][0].ohm):
        return f"{_where(runs[1], called)}: {_reads(runs[1])}; everywhere else {_reads((*runs[0], *runs[2]))}"
    return "; ".join(f"{_where(run, called)}: {_reads(run)}" for run in runs)


def _where(run: Readings, called: Called) -> str:
    return called(run[0].stop) if len(run) == 1 else f"{called(run[0].stop)} to {called(run[-1].stop)}"


def _reads(readings: Readings) -> str:
    """From the lowest to the highest typical reading; where tolerances are wide, from the lowest to the highest of all."""
    typical = [own.ohm for own in readings]
    if _is_rough(readings):
        return span(min(own.low_ohm for own in readings), max(own.high_ohm for own in readings), Kind.RESISTANCE)
    return span(min(typical), max(typical), Kind.RESISTANCE)


def _is_rough(readings: Readings) -> bool:
    return any(math.isfinite(own.high_ohm) and own.high_ohm > ROUGH * own.low_ohm for own in readings)


def _several(faults: Sequence[Fault], called: Called) -> str:
    """Faults in a row, many tears of the trunk counted."""
    tears = [fault for fault in faults if fault.kind is FaultKind.OPEN_TRUNK]
    shown = [fault for fault in faults if fault not in tears or len(tears) <= MANY]
    labels = [label[:1].lower() + label[1:] for label in (fault_label(fault, called) for fault in shown)]
    if len(tears) > MANY:
        labels.append(f"trunk torn at one of {len(tears)} places")
    return "; ".join(labels)
