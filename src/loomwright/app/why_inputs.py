"""What goes into a figure: each input with its value, its path, how it is known and from where."""

from collections import Counter
from dataclasses import dataclass, replace
from typing import Any

from loomwright.judge.evidence import cable_of
from loomwright.model.line import Line
from loomwright.model.variant import value_at
from loomwright.model.vehicle import Vehicle
from loomwright.show.change import kind_of
from loomwright.show.names import component_title, spoken
from loomwright.show.quantity import fact_reason, fact_text
from loomwright.show.quantity import text as quantity
from loomwright.show.words import path_words
from loomwright.solve.topology import LineTopology, Piece, port_of
from loomwright.terms.change import Path, path_text
from loomwright.terms.errors import PathError
from loomwright.terms.fact import Assumed, Known, Unknown
from loomwright.terms.quantity import Kind

MEASURED = "measured on the vehicle"


@dataclass(frozen=True, slots=True)
class Input:
    """One input. ``status`` is known, assumed, unknown or given (a plain field); ``note`` its source, reason or question."""

    name: str
    value: str
    path: str
    status: str
    note: str


def fact_input(vehicle: Vehicle, path: Path) -> Input:
    """The fact or field at a path, as an input."""
    name = path_words(path)
    try:
        value: Any = value_at(vehicle, path)
    except PathError:
        return Input(name, "?", path_text(path), "unknown", "")
    if value is None:
        return Input(name, "?", path_text(path), "unknown", "")
    if not isinstance(value, (Known, Assumed, Unknown, str, float, int, bool)):
        return Input(name, "", path_text(path), "unknown", "no way along the runs")
    shown = fact_text(value, kind_of(str(path[-1]))).removesuffix(" (assumed)")
    return Input(name, shown, path_text(path), _status(value), fact_reason(value))


def plain_input(name: str, value: Any) -> Input:
    """Something a rule took into account, by its name in the rule."""
    kind = kind_of(name)
    words = name.removesuffix("_bit_per_s").removesuffix("_ohm_per_m").removesuffix("_s_per_m").removesuffix("_m")
    words = words.removesuffix("_s").removesuffix("_ohm").replace("_", " ")
    shown = fact_text(value, kind) if not isinstance(value, tuple) else ", ".join(str(part) for part in value)
    is_name = isinstance(value, str) and "." not in value  # ports keep their address as it is written
    return Input(words, shown.replace("_", " ") if is_name else shown, "", "given", "")


def length_inputs(vehicle: Vehicle, line: Line, wired: LineTopology, kinds: tuple[str, ...]) -> tuple[Input, ...]:
    """Everything that lengths of these kinds of pieces are added up from: measured pieces, runs, own leads."""
    found: list[Input] = []
    runs: Counter[str] = Counter()
    for piece in (piece for piece in wired.pieces if piece.kind in kinds):
        measured = _measured(vehicle, line, wired, piece)
        if measured is not None:
            found.append(measured)
        else:
            runs.update(piece.runs)
        lead = _lead(vehicle, wired, piece)
        if lead is not None:
            found.append(lead)
    return (*_of_runs(vehicle, runs), *found)


def section_inputs(vehicle: Vehicle, line: Line, wired: LineTopology, index: int) -> tuple[Input, ...]:
    """What the distance of a stop is added up from."""
    before = tuple(
        piece
        for piece in wired.pieces
        if piece.kind == "trunk" and piece.stop <= index and not (index == 0 and _is_own_end(wired, piece))
    )
    return length_inputs(vehicle, line, replace(wired, pieces=before), ("trunk",))


def resistance_inputs(vehicle: Vehicle, line: Line, wired: LineTopology) -> tuple[Input, ...]:
    """Terminations that are on, input resistances, the cable and its length."""
    found: list[Input] = []
    alike: Counter[tuple[str, str, str]] = Counter()
    for stop in wired.stops:
        if stop.repeated:
            continue
        base: Path = ("lines", wired.line, "stations", stop.index)
        if stop.termination == "on":
            path = (*_port(stop.port), "termination_ohm") if stop.port else (*base, "terminator_ohm")
            entry = fact_input(vehicle, path)
            who = (
                component_title(stop.component, vehicle.components[stop.component])
                if stop.port
                else f"plug at {spoken(stop.joint_place)}"
            )
            found.append(Input(f"termination, {who}", entry.value, entry.path, entry.status, entry.note))
        if stop.port:
            fact = port_of(vehicle.components, stop.port).node_resistance_ohm
            if vehicle.components[stop.component].role == "service plug" and not isinstance(fact, Known):
                continue
            entry = fact_input(vehicle, (*_port(stop.port), "node_resistance_ohm"))
            if entry.status == "known":
                found.append(Input(f"input of {stop.port}", entry.value, entry.path, entry.status, entry.note))
            else:
                alike[(entry.value, entry.status, entry.note)] += 1
    for (value, status, note), count in alike.items():
        found.append(Input(f"input of {count} other nodes, each", value, "", status, note))
    cable = cable_of(vehicle, line)
    if line.cable:
        found.append(fact_input(vehicle, ("cables", line.cable, "conductor_resistance_ohm_per_m")))
    else:
        fact = cable.conductor_resistance_ohm_per_m
        found.append(
            Input("conductor resistance", fact_text(fact, Kind.RESISTANCE_PER_LENGTH), f"lines.{wired.line}.cable",
                  _status(fact), fact_reason(fact))
        )  # fmt: skip
    found.append(
        Input("cable of the line", quantity(wired.cable_m, Kind.LENGTH), f"lines.{wired.line}.cable_m", "computed", "")
    )
    return tuple(found)


def _of_runs(vehicle: Vehicle, runs: Counter[str]) -> list[Input]:
    found = []
    for name, times in runs.items():
        run = vehicle.runs[name]
        entry = fact_input(vehicle, ("runs", name, "length_m"))
        words = f"{spoken(run.start)} to {spoken(run.end).lower()}"
        found.append(
            Input(
                f"{words}{f', {times} times' if times > 1 else ''}", entry.value, entry.path, entry.status, entry.note
            )
        )
    return found


def _measured(vehicle: Vehicle, line: Line, wired: LineTopology, piece: Piece) -> Input | None:
    """The piece as it was measured, where it was."""
    station = line.stations[piece.stop]
    stop = wired.stops[piece.stop] if piece.stop < len(wired.stops) else None
    stub = stop is not None and piece.end == stop.tip and piece.start == stop.joint and stop.tip != stop.joint
    field, value = ("branch_m", station.branch_m) if stub else ("section_m", station.section_m)
    if value is None:
        return None
    what = "branch to" if stub else "section to"
    who = component_title(station.port.partition(".")[0], vehicle.components.get(station.port.partition(".")[0]))
    path = f"lines.{wired.line}.stations[{piece.stop}].{field}"
    name = f"{what} {who if station.port else f'terminator at {spoken(station.at)}'}"
    return Input(name, quantity(value, Kind.LENGTH), path, "known", MEASURED)


def _lead(vehicle: Vehicle, wired: LineTopology, piece: Piece) -> Input | None:
    stop = wired.stops[piece.stop]
    if (
        not stop.port
        or stop.lead_m <= 0.0
        or piece.end != stop.tip
        or piece.start != stop.joint
        or stop.tip == stop.joint
    ):
        return None
    entry = fact_input(vehicle, (*_port(stop.port), "pigtail_m"))
    title = component_title(stop.component, vehicle.components[stop.component])
    return Input(f"own lead of {title}", entry.value, entry.path, entry.status, entry.note)


def _is_own_end(wired: LineTopology, piece: Piece) -> bool:
    stop = wired.stops[piece.stop]
    return piece.end == stop.tip and piece.start == stop.joint and stop.tip != stop.joint


def _port(address: str) -> Path:
    component, _, port = address.partition(".")
    return ("components", component, "ports", port)


def _status(value: Any) -> str:
    if isinstance(value, Unknown):
        return "unknown"
    if isinstance(value, Assumed):
        return "assumed"
    return "known" if isinstance(value, Known) else "given"
