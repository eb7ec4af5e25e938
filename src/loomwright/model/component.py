"""A component and its bus ports, as its manual describes them."""

from dataclasses import dataclass, field
from typing import Annotated

from loomwright.model.table import Table
from loomwright.terms.fact import Assumed, Fact, Unknown
from loomwright.terms.field import Field
from loomwright.terms.quantity import Kind

ROLES = (
    "vehicle controller", "gateway", "battery manager", "inverter", "charger", "dc-dc converter", "junction box",
    "insulation monitor", "heater", "coolant pump", "fan", "compressor", "hydraulic pump", "thermal controller",
    "instrument cluster", "display", "pedal", "gear selector", "switch panel", "steering", "brakes", "lamps",
    "body controller", "telematics", "charge controller", "sensor", "service plug", "other",
)  # fmt: skip
PROTOCOLS = ("raw", "J1939", "CANopen", "diagnostics")
IDENTIFIERS = ("11 bit", "29 bit", "both")
FRAMES = ("classical", "FD", "both")
TERMINATIONS = ("none", "fixed", "switchable")

TRANSMIT_ORDERS = ("by priority", "first in first out")

_STANDARD_INPUT = "range a node may have by ISO 11898 (10 to 100 kohm), typical device 30 kohm"


@dataclass(frozen=True, slots=True)
class Port:
    """One bus connection of a component: what it can speak and what it puts on the wires."""

    protocols: Annotated[
        Fact[tuple[str, ...]],
        Field(
            "Protocols it can speak",
            choices=PROTOCOLS,
            example='["J1939"]',
            ask="Which protocols does the port speak?",
            where="communication chapter",
        ),
    ] = Unknown()
    bit_rates_bit_per_s: Annotated[
        Fact[tuple[float, ...]],
        Field(
            "Bit rates it can run at; one alone is fixed",
            Kind.BIT_RATE,
            '["250 kbit/s", "500 kbit/s"]',
            ask="Which bit rates can it run at, and how is one chosen?",
            where="communication chapter",
        ),
    ] = Unknown()
    identifiers: Annotated[
        Fact[str],
        Field(
            "Identifier width it uses",
            choices=IDENTIFIERS,
            example='"29 bit"',
            ask="Does it use 11-bit or 29-bit identifiers?",
            where="message list",
        ),
    ] = Unknown()
    frames: Annotated[
        Fact[str],
        Field(
            "Frames it can take part in",
            choices=FRAMES,
            example='"classical"',
            ask="Does it send or accept FD frames?",
            where="communication chapter",
        ),
    ] = Assumed("classical", "a manual that says nothing of FD describes a classical node")
    termination: Annotated[
        Fact[str],
        Field(
            "Termination inside the component",
            choices=TERMINATIONS,
            example='"switchable"',
            ask="Is a terminating resistor built in, and can it be switched off?",
            where="connector and wiring chapter; or measure between the two bus pins with nothing connected",
        ),
    ] = Unknown()
    termination_ohm: Annotated[
        Fact[float],
        Field(
            "Resistance of the built-in termination",
            Kind.RESISTANCE,
            "120 ohm",
            key="termination_resistance",
            ask="Which resistance has the built-in termination?",
            where="connector chapter, or ohm-meter",
            zero=False,
        ),
    ] = Assumed(120.0, "nominal terminator of ISO 11898-2", 118.8, 121.2)
    pigtail_m: Annotated[
        Fact[float],
        Field(
            "Length of the component's own bus lead, from its box to its connector",
            Kind.LENGTH,
            "0.30 m",
            ask="How long is the lead between the box and its bus connector?",
            where="dimension drawing, or tape measure",
        ),
    ] = Assumed(0.0, "connector taken to sit on the box")
    node_resistance_ohm: Annotated[
        Fact[float],
        Field(
            "Resistance between the two bus pins, termination apart",
            Kind.RESISTANCE,
            "30 kohm",
            ask="Which differential input resistance has the port?",
            where="transceiver's data sheet",
            zero=False,
        ),
    ] = Assumed(30_000.0, _STANDARD_INPUT, 10_000.0, 100_000.0)
    node_capacitance_f: Annotated[
        Fact[float],
        Field(
            "Capacitance between the two bus pins",
            Kind.CAPACITANCE,
            "100 pF",
            ask="Which differential capacitance has the port?",
            where="transceiver's data sheet",
        ),
    ] = Assumed(50e-12, "transceiver of 10 to 20 pF plus protection parts; common practice", 10e-12, 150e-12)
    transceiver_delay_s: Annotated[
        Fact[float],
        Field(
            "Delay of the transceiver from its input to its output, both halves together",
            Kind.TIME,
            "150 ns",
            ask="Which loop delay has the port's transceiver?",
            where="transceiver's data sheet",
        ),
    ] = Assumed(255e-9, "the most that ISO 11898-2 permits, as quoted in Microchip's online documents")
    sample_point: Annotated[
        Fact[float] | None,
        Field(
            "Where in the bit the port samples, if the manual says so",
            Kind.RATIO,
            "87.5 %",
            ask="At which sample point is the port set?",
            where="communication chapter",
            zero=False,
            most=1.0,
        ),
    ] = None
    data_bit_rates_bit_per_s: Annotated[
        Fact[tuple[float, ...]] | None,
        Field(
            "Bit rates its FD data phase can run at; one alone is fixed",
            Kind.BIT_RATE,
            '["2 Mbit/s"]',
            ask="Which bit rates can the data phase run at?",
            where="communication chapter",
        ),
    ] = None
    data_sample_point: Annotated[
        Fact[float] | None,
        Field(
            "Where in a bit of the data phase the port samples, if the manual says so",
            Kind.RATIO,
            "75 %",
            ask="At which sample point is the port's data phase set?",
            where="communication chapter",
            zero=False,
            most=1.0,
        ),
    ] = None
    address: Annotated[
        Fact[int] | None,
        Field(
            "Its address on the line: source address of J1939, node number of CANopen",
            Kind.COUNT,
            "39",
            ask="Which address does it have, and can it be set?",
            where="communication chapter",
            most=255,
        ),
    ] = None
    transmit_order: Annotated[
        Fact[str],
        Field(
            "Order in which messages leave that wait to be sent",
            choices=TRANSMIT_ORDERS,
            example='"first in first out"',
            ask="Does the lowest identifier leave first, or the one that waits longest?",
            where="seldom stated; ask the maker",
        ),
    ] = Assumed("by priority", "as bus controllers with a buffer for each message do; common practice")
    clock_hz: Annotated[
        Fact[float] | None,
        Field(
            "Clock of its bus controller, if its timing can be set",
            Kind.FREQUENCY,
            "40 MHz",
            ask="Which clock runs the bus controller?",
            where="configuration chapter",
            zero=False,
        ),
    ] = None
    oscillator_tolerance: Annotated[
        Fact[float] | None,
        Field(
            "Deviation of its oscillator, either way",
            Kind.RATIO,
            "0.1 %",
            ask="Which tolerance has its oscillator?",
            where="data sheet of the oscillator or controller",
            most=1.0,
        ),
    ] = None
    needed: Annotated[bool, Field("The vehicle needs this port on a line; false leaves it free", example="true")] = True


@dataclass(frozen=True, slots=True)
class Need:
    """Something the component must hear to do its job."""

    signal: Annotated[
        str,
        Field(
            "Signal or whole message it uses: file of messages, message, signal",
            example='"inverter.status_1.motor_speed"',
        ),
    ]
    what_for: Annotated[str, Field("What it does with it", example='"shows the speed"')] = ""
    port: Annotated[str, Field("Its port that must hear it; empty: any of them", example='"can1"')] = ""
    fresh_s: Annotated[
        Fact[float] | None,
        Field(
            "How old the value may be when it is used",
            Kind.TIME,
            "100 ms",
            ask="How old may the value be when it is used?",
            where="the function that uses it",
            zero=False,
            instead="leave it out where it does not matter",
        ),
    ] = None
    time_out_s: Annotated[
        Fact[float] | None,
        Field(
            "After how long without the message it takes the sender for lost",
            Kind.TIME,
            "500 ms",
            ask="After how long without this message does it give up?",
            where="fault chapter",
            zero=False,
            instead="leave it out where it does not matter",
        ),
    ] = None


@dataclass(frozen=True, slots=True)
class Forward:
    """A message that a component repeats on another of its lines."""

    message: Annotated[str, Field("Message that is passed on: file of messages, message", example='"pack.status"')]
    to: Annotated[str, Field("Its port that sends it on", example='"can2"')]
    identifier: Annotated[
        Fact[int] | None,
        Field(
            "Identifier on the other line; left out: the same",
            Kind.IDENTIFIER,
            "0x18FF10F4",
            ask="Which identifier does it have on the other line?",
            where="the gateway's settings",
        ),
    ] = None
    width: Annotated[
        str,
        Field(
            "Width of that identifier; empty: as it is sent, of an identifier written here 29 bits above 0x7FF",
            choices=("", *IDENTIFIERS[:2]),
            example='"29 bit"',
        ),
    ] = ""
    period_s: Annotated[
        Fact[float] | None,
        Field(
            "Period at which it is repeated; left out: whenever one is heard",
            Kind.TIME,
            "100 ms",
            ask="How often is it repeated?",
            where="the gateway's settings",
            zero=False,
            instead="leave it out: passed on whenever one is heard",
        ),
    ] = None
    delay_s: Annotated[
        Fact[float],
        Field(
            "Longest time from hearing it until it waits to be sent on",
            Kind.TIME,
            "5 ms",
            ask="How long does the gateway take to pass a message on?",
            where="the gateway's settings, its cycle",
        ),
    ] = Assumed(10e-3, "a controller's cycle of ten milliseconds; common practice")
    states: Annotated[
        tuple[str, ...],
        Field("States of the vehicle in which it is passed on; left out: as it is sent", example='["charge"]'),
    ] = ()


@dataclass(frozen=True, slots=True)
class Component:
    """A box with a job, mounted at a place."""

    role: Annotated[str, Field("Its job in the vehicle", choices=ROLES, example='"inverter"')]
    place: Annotated[str, Field("Place where it is mounted", example='"frame_rear"')]
    title: Annotated[str, Field("What people call it", example='"Drive inverter"')] = ""
    maker: Annotated[str, Field("Its maker", example='"Ferrum"')] = ""
    manual: Annotated[
        str, Field("Document the facts below come from, with edition", example='"IV-200 integration manual, ed. 3"')
    ] = ""
    ports: Table[Port] = field(default_factory=Table)
    needs: Table[Need] = field(default_factory=Table)
    forwards: Table[Forward] = field(default_factory=Table)
    cycle_s: Annotated[
        Fact[float] | None,
        Field(
            "Cycle in which it reads what it heard and decides what it says",
            Kind.TIME,
            "10 ms",
            ask="In which cycle does it compute?",
            where="software settings, or ask the maker",
            zero=False,
            instead="leave it out for one that acts at once",
        ),
    ] = None
    ground_offset_v: Annotated[
        Fact[float] | None,
        Field(
            "Voltage of its ground against the controller's ground, at full load",
            Kind.VOLTAGE,
            "0.3 V",
            signed=True,
            ask="How far is its ground from the controller's ground at full load?",
            where="volt-meter on the vehicle, by those licensed for it where high voltage is near",
        ),
    ] = None
