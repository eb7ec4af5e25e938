"""The body: outline, places, runs between them, cables, locks, accepted deviations; and the vehicle that holds everything."""

from dataclasses import dataclass, field
from typing import Annotated

from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.message import MessageSet
from loomwright.model.table import Table
from loomwright.terms.fact import Assumed, Fact, Unknown
from loomwright.terms.field import Field
from loomwright.terms.quantity import Kind

RULE_SETS = ("ISO 11898-2", "SAE J1939-11", "SAE J1939-15", "CiA 303-1")
LOCK_KINDS = ("be on line", "be at an end", "share a line with", "not share a line with", "be joined through")


@dataclass(frozen=True, slots=True)
class Place:
    """A spot in the vehicle where something can be mounted or a cable can be tied."""

    x_m: Annotated[
        float, Field("Distance behind the foremost point of the outline", Kind.LENGTH, "1.20 m", signed=True)
    ]
    y_m: Annotated[
        float,
        Field("Distance to the left of the centre line; right is negative", Kind.LENGTH, "-0.45 m", signed=True),
    ]
    z_m: Annotated[float, Field("Height above the ground", Kind.LENGTH, "0.80 m")] = 0.0
    title: Annotated[str, Field("What the workshop calls it", example="behind the left lamp")] = ""
    wet: Annotated[bool | None, Field("Spray or standing water reaches it", example="true")] = None


@dataclass(frozen=True, slots=True)
class Run:
    """A way a cable can take between two places, with the length of cable it needs."""

    start: Annotated[str, Field("Place at one end", example='"firewall"', key="from")]
    end: Annotated[str, Field("Place at the other end", example='"dash"', key="to")]
    length_m: Annotated[
        Fact[float],
        Field(
            "Length of cable between the two places, bends and slack included",
            Kind.LENGTH,
            "1.35 m",
            ask="How long is the cable between the two places? Lay a string along the run.",
            where="tape measure on the vehicle",
        ),
    ] = Unknown()
    high_voltage_clearance_m: Annotated[
        Fact[float] | None,
        Field(
            "Smallest distance kept to a high-voltage cable along this run; leave out where none is near",
            Kind.LENGTH,
            "0.25 m",
            ask="How close does this run come to a high-voltage cable?",
            where="tape measure on the vehicle, high voltage switched off and verified",
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class Cable:
    """A kind of bus cable that lines are made of."""

    title: Annotated[str, Field("What the cable's label says", example="twisted pair 2 x 0.5 mm2")] = ""
    cross_section_m2: Annotated[
        Fact[float],
        Field(
            "Copper cross-section of one conductor",
            Kind.AREA,
            "0.5 mm2",
            ask="Which cross-section has the bus cable?",
            where="cable's data sheet or label",
            zero=False,
        ),
    ] = Unknown()
    conductor_resistance_ohm_per_m: Annotated[
        Fact[float],
        Field(
            "DC resistance of one conductor; the loop has twice this",
            Kind.RESISTANCE_PER_LENGTH,
            "40 mohm/m",
            ask="Which DC resistance per metre has one conductor?",
            where="cable's data sheet",
        ),
    ] = Assumed(
        0.070, "nominal length-related resistance of ISO 11898, as quoted by a bus-interface maker's cabling guide"
    )
    impedance_ohm: Annotated[
        Fact[float],
        Field(
            "Characteristic impedance of the pair",
            Kind.RESISTANCE,
            "120 ohm",
            ask="Which characteristic impedance has the cable?",
            where="cable's data sheet",
            zero=False,
        ),
    ] = Assumed(120.0, "nominal impedance of ISO 11898 bus cable")
    delay_s_per_m: Annotated[
        Fact[float],
        Field(
            "Signal delay per metre",
            Kind.DELAY_PER_LENGTH,
            "5.0 ns/m",
            ask="Which propagation delay has the cable?",
            where="cable's data sheet",
        ),
    ] = Assumed(5.0e-9, "nominal line delay of ISO 11898, as quoted by a bus-interface maker's cabling guide")
    shielded: Annotated[bool, Field("The pair has a shield", example="false")] = False


@dataclass(frozen=True, slots=True)
class Lock:
    """A decision the planner must keep, with the reason; its price in metres is shown with every plan."""

    port: Annotated[str, Field("Port that the lock holds", example='"inverter.can"')]
    must: Annotated[str, Field("What it must do", example='"be at an end"', choices=LOCK_KINDS)]
    line: Annotated[str, Field("Line it must be on, for: be on line", example='"drive"')] = ""
    other: Annotated[
        str, Field("The other port, for: share a line with, not share a line with", example='"charger.can"', key="with")
    ] = ""
    why: Annotated[str, Field("The reason, for whoever reads this later", example='"maker wants it last"')] = ""


@dataclass(frozen=True, slots=True)
class Deviation:
    """A limit knowingly not kept: the finding stays, with the reason and the name of whoever answers for it.

    It holds for the figure that was measured then; a worse one is a new finding.
    """

    rule: Annotated[str, Field("Code of the rule whose limit is not kept", example='"branch-length"')]
    subject: Annotated[
        str, Field("What was measured, as findings print it", example='"lines.drive.stations[inverter.can].branch_m"')
    ]
    measured: Annotated[str, Field("The figure that was accepted", example='"0.42 m"')]
    reason: Annotated[str, Field("Why it is accepted", example='"250 kbit/s, measured clean with a scope"')]
    by: Annotated[str, Field("Who answers for it", example='"M. Berger"')]
    date: Annotated[str, Field("Day of the decision", example='"2025-11-25"')] = ""


@dataclass(frozen=True, slots=True)
class Chain:
    """From a cause to its effect, through the messages in between."""

    steps: Annotated[
        tuple[str, ...],
        Field(
            "Messages from the cause on, each sent by whoever hears the one before: file of messages, message",
            example='["pedal.travel", "controller.torque_demand"]',
        ),
    ]
    effect: Annotated[str, Field("Component that acts on the last of them", example='"inverter"')]
    title: Annotated[str, Field("What happens", example='"Pedal to torque"')] = ""
    within_s: Annotated[
        Fact[float],
        Field(
            "By when after the cause its effect must have begun",
            Kind.TIME,
            "150 ms",
            ask="By when must the effect have begun?",
            where="the function's needs; the component's manual",
            zero=False,
        ),
    ] = Unknown()


@dataclass(frozen=True, slots=True)
class Axle:
    """Where an axle stands, for the drawing."""

    x_m: Annotated[float, Field("Distance behind the foremost point of the outline", Kind.LENGTH, "0.90 m")]
    track_m: Annotated[
        float, Field("Distance between the wheels' centre planes", Kind.LENGTH, "1.50 m", zero=False)
    ] = 1.5


@dataclass(frozen=True, slots=True)
class Vehicle:
    """Everything that is known of one conversion."""

    name: Annotated[str, Field("Name of the vehicle", example='"Tipper"')]
    length_m: Annotated[float, Field("Length of the outline", Kind.LENGTH, "5.20 m", zero=False)]
    width_m: Annotated[float, Field("Width of the outline", Kind.LENGTH, "1.80 m", zero=False)]
    axles: tuple[Axle, ...] = ()
    ambient_low_k: Annotated[
        float, Field("Coldest air the vehicle meets", Kind.TEMPERATURE, "-20 degC", key="ambient_low")
    ] = 253.15
    ambient_high_k: Annotated[
        float, Field("Hottest air around the wiring", Kind.TEMPERATURE, "60 degC", key="ambient_high")
    ] = 333.15
    wet: Annotated[bool, Field("Spray reaches places that say nothing else", example="true")] = True
    rule_set: Annotated[
        str,
        Field("Published rule set that governs lines which choose none", example='"SAE J1939-15"', choices=RULE_SETS),
    ] = "CiA 303-1"
    states: Annotated[
        tuple[str, ...],
        Field("States the vehicle can be in, for messages that are not always sent", example='["drive", "charge"]'),
    ] = ()
    places: Table[Place] = field(default_factory=Table)
    runs: Table[Run] = field(default_factory=Table)
    cables: Table[Cable] = field(default_factory=Table)
    locks: Table[Lock] = field(default_factory=Table)
    deviations: Table[Deviation] = field(default_factory=Table)
    chains: Table[Chain] = field(default_factory=Table)
    components: Table[Component] = field(default_factory=Table)
    lines: Table[Line] = field(default_factory=Table)
    messages: Table[MessageSet] = field(default_factory=Table)
