"""Results as plain values for ``--json``: stable, versioned, described in docs/json.md. Numbers are SI."""

import math
from typing import TYPE_CHECKING, Any

from loomwright.app.arrange import Proposed
from loomwright.app.check import Checked, LineAnswers
from loomwright.model.vehicle import Vehicle
from loomwright.show.change import edit_text
from loomwright.show.fault_words import fault_text
from loomwright.show.words import finding_cure, finding_sentence
from loomwright.solve.ohms import StopOhms
from loomwright.solve.unknowns import OpenQuestion
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Change, Path, path_text
from loomwright.terms.finding import Finding
from loomwright.terms.limit import Limit
from loomwright.terms.problem import Problem
from loomwright.terms.quantity import SUFFIX

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from loomwright.app.signal import LinePhysics
    from loomwright.app.signal_advice import SignalAdvice
    from loomwright.app.signal_fault import FaultLook
    from loomwright.propose.signal_cures import Effect
    from loomwright.solve.grounds import LineGrounds
    from loomwright.solve.signal_draws import SignalDraws

VERSION = 1
"""Raised when a key changes its meaning or goes; new keys alone do not raise it."""


def headed(what: str, body: dict[str, Any]) -> dict[str, Any]:
    """Put the name and version of the schema in front."""
    return {"schema": f"loomwright.{what}", "version": VERSION, **body}


def of_checked(checked: Checked) -> dict[str, Any]:
    """A whole check."""
    return headed(
        "check",
        {
            "project": checked.project,
            "revision": checked.revision,
            "verdict": checked.verdict.value if checked.verdict else None,
            "problems": [of_problem(problem) for problem in checked.problems],
            "findings": [of_finding(finding) for finding in checked.findings],
            "lines": [of_line(line) for line in checked.lines],
        },
    )


def of_problem(problem: Problem) -> dict[str, Any]:
    """One problem with its place; line and column count from 1."""
    return {
        "file": problem.file,
        "line": problem.line,
        "column": problem.column,
        "message": problem.message,
        "expected": problem.expected,
        "nearest": problem.nearest,
    }


def of_limit(limit: Limit) -> dict[str, Any]:
    """A limit with its source."""
    return {
        "value": number(limit.value),
        "high": number(limit.high),
        "bound": limit.bound.value,
        "unit": SUFFIX[limit.kind].removeprefix("_"),
        "document": limit.source.document,
        "place": limit.source.place,
        "standing": limit.standing.value,
    }


def of_finding(finding: Finding) -> dict[str, Any]:
    """One finding, in figures and in words."""
    reading = finding.reading
    return {
        "rule": finding.rule,
        "verdict": finding.verdict.value,
        "weight": reading.weight.value,
        "line": reading.line,
        "rule_set": reading.rule_set,
        "subject": path_text(reading.subject),
        "value": number(reading.value),
        "margin": number(finding.margin),
        "limit": of_limit(reading.limit),
        "because": {name: plain(value) for name, value in reading.because},
        "blocked_by": paths(reading.blocked_by),
        "assumed": paths(reading.assumed),
        "accepted": finding.accepted,
        "sentence": finding_sentence(finding),
        "cure": finding_cure(finding),
        "change": of_change(reading.change) if reading.change else None,
    }


def of_change(change: Change) -> dict[str, Any]:
    """A change, each edit as path and value."""
    return {
        "title": change.title,
        "edits": [{"path": path_text(edit.path), "text": edit_text(edit)} for edit in change.edits],
    }


def of_line(line: LineAnswers) -> dict[str, Any]:
    """What was computed of a line; ``blocked_by`` instead of figures where facts are missing."""
    blocked = [path for answer in (line.topology, line.ohms) if isinstance(answer, Blocked) for path in answer.by]
    body: dict[str, Any] = {"name": line.name, "blocked_by": paths(tuple(dict.fromkeys(blocked))), "stations": []}
    if isinstance(line.topology, Blocked):
        return body
    wired = line.topology.value
    readings = {} if isinstance(line.ohms, Blocked) else {stop.stop: stop for stop in line.ohms.value.stops}
    body |= {"trunk_m": number(wired.trunk_m), "branches_m": number(wired.branches_m), "cable_m": number(wired.cable_m)}
    body["stations"] = [
        {
            "index": stop.index,
            "port": stop.port,
            "place": stop.place,
            "joined_at": stop.joint_place,
            "distance_m": number(stop.distance_m),
            "branch_m": number(stop.branch_m),
            "termination": stop.termination,
            "reading": of_ohms(readings[stop.index]) if stop.index in readings else None,
        }
        for stop in wired.stops
    ]
    body["unplugged"] = (
        []
        if isinstance(line.ohms, Blocked)
        else [
            {"without": name, "readings": [of_ohms(stop) for stop in stops]}
            for name, stops in line.ohms.value.unplugged
        ]
    )
    return body


def of_ohms(stop: StopOhms) -> dict[str, Any]:
    """An ohm-meter reading with its bounds; null where it is open."""
    return {"ohm": number(stop.ohm), "low_ohm": number(stop.low_ohm), "high_ohm": number(stop.high_ohm)}


def of_signals(
    found: "tuple[LinePhysics, ...]",
    left_out: str,
    drawn: "Mapping[str, Answer[SignalDraws]]",
    advised: "Sequence[SignalAdvice]",
) -> dict[str, Any]:
    """The physical layer of the lines; ``drawn`` holds the tolerance draws of those that were asked for."""
    return headed(
        "signal",
        {
            "left_out": left_out,
            "lines": [
                {
                    "name": item.name,
                    "blocked_by": paths(item.signal.by) if isinstance(item.signal, Blocked) else [],
                    "signal": None if isinstance(item.signal, Blocked) else plain(item.signal.value),
                    "levels": None if isinstance(item.levels, Blocked) else plain(item.levels.value),
                    "timing": None if isinstance(item.timing, Blocked) else plain(item.timing.value),
                    "grounds": None if isinstance(item.grounds, Blocked) else _of_grounds(item.grounds.value),
                    "draws": plain(draws.value) if isinstance(draws := drawn.get(item.name), Solved) else None,
                }
                for item in found
            ],
            "advice": [
                {
                    "line": item.name,
                    "effects": [_of_effect(effect) for effect in item.effects or ()],
                    "longest_branches": [
                        {**plain(room.waves), **plain(room, leave_out=("waves",))} for room in item.rooms or ()
                    ],
                }
                for item in advised
            ],
            "findings": [of_finding(finding) for item in found for finding in item.findings],
        },
    )


def _of_grounds(found: "LineGrounds") -> dict[str, Any]:
    return {**plain(found, ("waits",)), "waits": paths(found.waits)}


def of_fault(found: "FaultLook", drawn: "Sequence[Answer[SignalDraws]]" = ()) -> dict[str, Any]:
    """A line with a fault beside the sound one; a schema of its own, so that nobody takes it for the vehicle.

    ``drawn`` are the draws of every piece, where they were asked for.
    """
    line = found.line
    built = [plain(own.value) if isinstance(own, Solved) else None for own in drawn]
    pieces = [
        {
            "stations": [number for number in own.part.stations if number is not None],
            "nodes": list(own.nodes),
            "terminations": sum(s.termination == "on" and not s.repeated for s in own.part.topology.stops),
            **_of_physics(own.physics),
            "bit_timing": None if isinstance(own.physics.timing, Blocked) else plain(own.physics.timing.value),
            "worse": [of_finding(finding) for finding in own.worse],
            "draws": built[at] if built else None,
        }
        for at, own in enumerate(found.parts)
    ]
    whole = None if line.is_parted else found.parts[0].physics
    return headed(
        "signal-fault",
        {
            "line": line.name,
            "fault": {
                "text": line.text,
                "kind": line.fault.kind.value,
                "station": line.fault.station,
                "length_m": number(line.fault.length_m),
                "sentence": line.sentence,
            },
            "as_drawn": False,
            "makes_right": found.rights,
            "blocked_by": paths(found.blocked_by),
            "receivers": plain(found.receivers),
            "ohms": [] if isinstance(found.ohms, Blocked) else plain(found.ohms.value),
            "finding": _of_finding(found),
            "sound": _of_physics(found.sound),
            "with_fault": _of_physics(whole) if whole else {"signal": None, "levels": None},
            "halves": pieces if line.is_parted else [],
            "worse": [of_finding(finding) for own in found.parts for finding in own.worse],
            "draws_with_fault": built[0] if built and not line.is_parted else None,
        },
    )


def _of_finding(found: "FaultLook") -> dict[str, Any] | None:
    """How the fault is told from its look-alikes with a meter: figures of every walk, faults by the texts that name them."""
    if isinstance(found.finding, Blocked):
        return None
    value, line = found.finding.value, found.sound_line
    return {
        "seen_by_meter": value.seen,
        "steps": [
            {
                "unplugged": step.unplugged,
                "readings": _of_readings(step.readings),
                "others": [
                    {
                        "fault": None if look.fault is None else fault_text(look.fault, line),
                        "apart": look.apart,
                        "readings": _of_readings(look.readings),
                    }
                    for look in step.others
                ],
            }
            for step in value.steps
        ],
        "not_told_apart": [fault_text(fault, line) for fault in value.left],
    }


def _of_readings(readings: "Sequence[StopOhms]") -> list[dict[str, Any]]:
    return [
        {
            "station": own.stop,
            "low_ohm": number(own.low_ohm),
            "ohm": number(own.ohm),
            "high_ohm": number(own.high_ohm),
        }
        for own in readings
    ]


def _of_physics(found: "LinePhysics") -> dict[str, Any]:
    return {
        "signal": None if isinstance(found.signal, Blocked) else plain(found.signal.value),
        "levels": None if isinstance(found.levels, Blocked) else plain(found.levels.value),
    }


_OF_FINDINGS = ("cures", "eased", "left", "worsens", "worse", "narrowed")


def _of_effect(effect: "Effect") -> dict[str, Any]:
    return {
        **plain(effect, leave_out=("change", *_OF_FINDINGS)),
        "cured": list(effect.cured),
        "breaks": list(effect.breaks),
        **{name: [of_finding(finding) for finding in getattr(effect, name)] for name in _OF_FINDINGS},
        "offered": effect.offered,
        "change": of_change(effect.change),
    }


def of_questions(questions: tuple[OpenQuestion, ...]) -> dict[str, Any]:
    """The open questions, most useful first."""
    return headed(
        "unknowns",
        {
            "questions": [
                {
                    "path": path_text(item.path),
                    "question": item.question,
                    "where": item.where,
                    "document": item.document,
                    "blocks": list(item.blocks),
                }
                for item in questions
            ]
        },
    )


def of_proposed(proposed: Proposed, vehicle: Vehicle, *, written: bool) -> dict[str, Any]:
    """A line plan with its figures, its difference and its verdict."""
    plan = proposed.arrangement
    return headed(
        "arrange",
        {
            "vehicle": vehicle.name,
            "written": written,
            "verdict": proposed.verdict.value,
            "plan": plain(plan, leave_out=("change",)),
            "change": of_change(plan.change),
            "files": [name for name, old, new in proposed.texts if old != new],
        },
    )


def number(value: float | None) -> float | None:
    """A float that JSON can hold: 12 significant digits, null for infinite."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.12g}")


def paths(found: tuple[Path, ...]) -> list[str]:
    """Paths as text."""
    return [path_text(path) for path in found]


def plain(value: Any, leave_out: tuple[str, ...] = ()) -> Any:
    """Any result value as plain data, field by field."""
    if isinstance(value, bool) or value is None or isinstance(value, (str, int)):
        return str(value) if isinstance(value, str) else value
    if isinstance(value, float):
        return number(value)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list, frozenset, set)):
        return [plain(item) for item in value]
    if hasattr(value, "__dataclass_fields__"):
        return {name: plain(getattr(value, name)) for name in value.__dataclass_fields__ if name not in leave_out}
    return str(value)
