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
        ),
    ] = None
    clock_hz: Annotated[
        Fact[float] | None,
        Field(
            "Clock of its bus controller, if its timing can be set",
            Kind.FREQUENCY,
            "40 MHz",
            ask="Which clock runs the bus controller?",
            where="configuration chapter",
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
        ),
    ] = None
    needed: Annotated[bool, Field("The vehicle needs this port on a line; false leaves it free", example="true")] = True


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
