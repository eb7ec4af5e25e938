"""A bus line: what it must carry, and the order in which its trunk visits its stations."""

from dataclasses import dataclass
from typing import Annotated

from loomwright.model.component import FRAMES, IDENTIFIERS, PROTOCOLS
from loomwright.terms.fact import Fact, Unknown
from loomwright.terms.field import Field
from loomwright.terms.quantity import Kind


@dataclass(frozen=True, slots=True)
class Station:
    """One stop of the trunk: a component's port, or a plug-in terminator.

    Without ``at`` the trunk passes through the component at its own place. With ``at`` a branch leaves the trunk at
    that place and runs to the component. A plug-in terminator needs ``at``.
    """

    port: Annotated[str, Field("Component and port that joins here", example='"inverter.can"')] = ""
    terminator_ohm: Annotated[
        Fact[float] | None, Field("A plug-in terminator instead of a port", Kind.RESISTANCE, "120 ohm", zero=False)
    ] = None
    at: Annotated[
        str, Field("Place where it joins the trunk, when that is not the component's own", example='"frame_mid"')
    ] = ""
    via: Annotated[
        tuple[str, ...],
        Field(
            "Places the trunk passes on its way here from the stop before; empty: the shortest way",
            example='["firewall"]',
        ),
    ] = ()
    section_m: Annotated[
        float | None, Field("Trunk cable from the stop before, as measured; else from the runs", Kind.LENGTH, "2.10 m")
    ] = None
    branch_m: Annotated[
        float | None,
        Field(
            "Branch cable from the trunk to the component's connector, as measured; else from the runs",
            Kind.LENGTH,
            "0.40 m",
        ),
    ] = None
    terminated: Annotated[bool, Field("Its switchable termination is switched on", example="true")] = False


@dataclass(frozen=True, slots=True)
class Line:
    """A bus line of the vehicle."""

    title: Annotated[str, Field("What people call it", example='"Drive line"')] = ""
    protocol: Annotated[str, Field("Protocol spoken on it", choices=PROTOCOLS, example='"J1939"')] = "raw"
    bit_rate_bit_per_s: Annotated[
        Fact[float],
        Field(
            "Bit rate",
            Kind.BIT_RATE,
            "250 kbit/s",
            ask="At which bit rate does the line run?",
            where="the slowest fixed component on it decides",
        ),
    ] = Unknown()
    identifiers: Annotated[
        Fact[str],
        Field(
            "Identifier width in use",
            choices=IDENTIFIERS,
            example='"29 bit"',
            ask="11-bit or 29-bit identifiers?",
            where="message lists of its components",
        ),
    ] = Unknown()
    frames: Annotated[str, Field("Frames in use", choices=FRAMES[:2], example='"classical"')] = "classical"
    cable: Annotated[str, Field("Cable it is made of, from [cables]", example='"bus_pair"')] = ""
    rule_set: Annotated[
        str, Field("Published rule set that governs it; empty: the vehicle's", example='"SAE J1939-15"')
    ] = ""
    controller: Annotated[
        str, Field("Port of the controller or gateway that masters it", example='"vehicle_controller.can1"')
    ] = ""
    propagation_segment_s: Annotated[
        Fact[float] | None,
        Field(
            "Propagation segment of the bit timing (TSEG1 less SJW); empty: taken as 11/16 of the bit, 3/8 from 1 Mbit/s",
            Kind.TIME,
            "1375 ns",
            zero=False,
            instead="leave it out: taken as usual",
        ),
    ] = None
    data_bit_rate_bit_per_s: Annotated[
        Fact[float],
        Field(
            "Bit rate of the data phase of FD frames",
            Kind.BIT_RATE,
            "2 Mbit/s",
            ask="At which bit rate does the data phase of FD frames run?",
            where="the slowest FD component on it decides",
        ),
    ] = Unknown()
    load_limit: Annotated[
        float | None,
        Field("Highest mean load wanted; left out: the rule's own", Kind.RATIO, "40 %", zero=False, most=1.0),
    ] = None
    errors_at_once: Annotated[
        int,
        Field("Disturbed frames in a row after which every message must still be in time", Kind.COUNT, "1"),
    ] = 0
    error_gap_s: Annotated[
        float | None,
        Field(
            "Least time to each further disturbed frame; left out: none follows",
            Kind.TIME,
            "50 ms",
            zero=False,
            instead="leave it out: none follows",
        ),
    ] = None
    stations: tuple[Station, ...] = ()
