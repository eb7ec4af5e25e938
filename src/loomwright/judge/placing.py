"""Changes that put a port on a line or take it off one. Candidates, like those of ``judge/cures.py``."""

from dataclasses import replace

from loomwright.judge.cures import without
from loomwright.judge.evidence import LineEvidence, VehicleEvidence
from loomwright.judge.rules.matching import PASSIVE, suits
from loomwright.laws.rule_sets import limits_of
from loomwright.model.component import Component
from loomwright.model.line import Station
from loomwright.solve.topology import Piece, port_of
from loomwright.solve.ways import RunWays
from loomwright.terms.answer import Blocked
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Unknown, value_of


def put_on_a_line(evidence: VehicleEvidence, address: str, net: RunWays) -> Change | None:
    """Let a port join the one line it suits, where the trunk comes nearest to it; ``None`` where none or several do.

    Lines that no controller hears are left out, and for a service plug those that have one already.
    """
    name = address.partition(".")[0]
    component = evidence.vehicle.components[name]
    port = port_of(evidence.vehicle.components, address)
    able = [
        line
        for line in evidence.lines
        if suits(line.line, component, port)
        and line.name not in evidence.reach.dark_lines
        and name not in line.components
        and not (component.role == PASSIVE and any(other.role == PASSIVE for other in line.components.values()))
    ]
    if len(able) != 1:
        return None
    return _inserted(able[0], address, component, net, value_of(port.pigtail_m))


def _inserted(
    evidence: LineEvidence, address: str, component: Component, net: RunWays, lead_m: float | None
) -> Change | None:
    if isinstance(evidence.topology, Blocked) or lead_m is None:
        return None
    wired = evidence.topology.value
    spots = [
        (net.ways.length(place, component.place), piece.stop, place, piece)
        for piece in wired.pieces
        if piece.kind == "trunk" and piece.end == wired.stops[piece.stop].joint
        for place in piece.places
    ]
    if not spots:
        return None
    way_m, index, place, piece = min(spots, key=lambda spot: spot[:3])
    rate = evidence.line.bit_rate_bit_per_s
    limit = None if isinstance(rate, Unknown) else limits_of(evidence.rule_set, rate.value).branch_m
    through = place == component.place or (limit is not None and way_m + lead_m > limit.value)
    stations = _split(evidence, index, piece, Station(address, at="" if through else place), place)
    return Change(f"Join {address} to line {evidence.name}", (Edit((*evidence.path, "stations"), stations),))


def _split(evidence: LineEvidence, index: int, piece: Piece, new: Station, place: str) -> tuple[Station, ...]:
    """Insert a station into the section that leads to a stop; the section's own way is shared out."""
    after = evidence.line.stations[index]
    here, at = piece.places.index(place), 0
    passed: list[str] = []
    ahead: list[str] = []
    for via in after.via:
        if via in piece.places[at:]:  # a measured section without runs knows no places between its ends
            at = piece.places.index(via, at)
            if at != here:
                (passed if at < here else ahead).append(via)
    stations = evidence.line.stations
    return (
        *stations[:index],
        replace(new, via=tuple(passed)),
        replace(after, via=tuple(ahead), section_m=None),
        *stations[index + 1 :],
    )


def take_off_a_line(evidence: VehicleEvidence, address: str, lines: tuple[str, ...]) -> Change | None:
    """Take a port off the one line of two that it does not suit; ``None`` where that is not plain."""
    if len(lines) != 2:
        return None
    component = evidence.vehicle.components[address.partition(".")[0]]
    port = port_of(evidence.vehicle.components, address)
    own = [line for line in evidence.lines if line.name in lines]
    wrong = [line for line in own if line.line.controller != address and not suits(line.line, component, port)]
    if len(wrong) != 1:
        return None
    stations = wrong[0].line.stations
    index = next(i for i, station in enumerate(stations) if station.port == address)
    edit = Edit((*wrong[0].path, "stations"), without(wrong[0], stations, index))
    return Change(f"Take {address} off line {wrong[0].name}", (edit,))
