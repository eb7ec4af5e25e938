"""Messages as manuals and definition files list them: frames with their signals, who sends and who expects them."""

from dataclasses import dataclass, field
from typing import Annotated

from loomwright.model.component import FRAMES, IDENTIFIERS
from loomwright.model.table import Table
from loomwright.terms.fact import Assumed, Fact, Unknown
from loomwright.terms.field import Field
from loomwright.terms.quantity import Kind

BYTE_ORDERS = ("little endian", "big endian")
NUMBERS = ("unsigned", "signed", "float")
DUTIES = ("value", "counter", "checksum")
CHECKSUMS = (
    "CRC-8/SAE-J1850", "CRC-8/AUTOSAR", "CRC-16/IBM-3740", "CRC-32/AUTOSAR", "CRC-64/XZ",
    "end-to-end profile 1", "end-to-end profile 2", "end-to-end profile 5", "maker's own",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Signal:
    """One value inside a message: where its bits are and what they mean.

    Bits are numbered as definition files do: bit 0 is the lowest of the first byte, bit 8 the lowest of the second.
    """

    start: Annotated[
        int,
        Field(
            "Number of its first bit: the lowest one in little endian, the highest one in big endian; bit 8 is the "
            "lowest of the second byte",
            Kind.COUNT,
            "16",
        ),
    ]
    bits: Annotated[int, Field("How many bits it has", Kind.COUNT, "12")]
    byte_order: Annotated[str, Field("Which byte comes first", choices=BYTE_ORDERS, example='"little endian"')] = (
        "little endian"
    )
    number: Annotated[str, Field("How its bits make a number", choices=NUMBERS, example='"signed"')] = "unsigned"
    factor: Annotated[float, Field("What one step is worth", example="0.1", signed=True, zero=False)] = 1.0
    offset: Annotated[float, Field("Value when the bits are zero", example="-40.0", signed=True)] = 0.0
    unit: Annotated[str, Field("Unit of the value", example='"km/h"')] = ""
    low: Annotated[float | None, Field("Lowest value that has a meaning", example="-40.0", signed=True)] = None
    high: Annotated[float | None, Field("Highest value that has a meaning", example="210.0", signed=True)] = None
    values: Annotated[
        tuple[str, ...], Field("Values that have a name", example='["0 off", "1 on", "3 not available"]')
    ] = ()
    duty: Annotated[str, Field("A value, or what guards the message", choices=DUTIES, example='"counter"')] = "value"
    checksum: Annotated[
        str, Field("Rule by which a checksum is computed", choices=("", *CHECKSUMS), example='"CRC-8/SAE-J1850"')
    ] = ""
    selects: Annotated[bool, Field("Its value says which of the message's other signals are there", example="true")] = (
        False
    )
    selected_by: Annotated[
        str, Field("Signal of the same message that says whether this one is there", example='"page"')
    ] = ""
    selected_when: Annotated[
        tuple[int, ...], Field("Values of the selecting signal with which it is there", Kind.COUNT, "[0, 1]")
    ] = ()
    title: Annotated[str, Field("What the manual calls it", example='"Motor speed"')] = ""


@dataclass(frozen=True, slots=True)
class Message:
    """A frame with a meaning. With ``expected_by`` it is a receiver's description of what it wants to hear."""

    title: Annotated[str, Field("What the manual calls it", example='"Inverter status 1"')] = ""
    identifier: Annotated[
        Fact[int],
        Field(
            "Identifier on the wire; the lower one wins",
            Kind.IDENTIFIER,
            "0x181",
            ask="Which identifier does the message have?",
            where="message list",
        ),
    ] = Unknown()
    width: Annotated[
        str,
        Field(
            "Width of the identifier; empty: 29 bits above 0x7FF", choices=("", *IDENTIFIERS[:2]), example='"11 bit"'
        ),
    ] = ""
    length: Annotated[int, Field("Bytes of data", Kind.COUNT, "8")] = 8
    frames: Annotated[str, Field("Kind of frame", choices=FRAMES[:2], example='"classical"')] = "classical"
    sender: Annotated[
        str, Field("Port that sends it; empty: the one named at the top of the file", example='"inverter.can"')
    ] = ""
    expected_by: Annotated[
        str,
        Field(
            "Port whose manual describes it as something it wants to hear; then it is sent by another definition",
            example='"vehicle_controller.can1"',
        ),
    ] = ""
    period_s: Annotated[
        Fact[float] | None,
        Field(
            "Time from one to the next; left out for a message sent on an event",
            Kind.TIME,
            "10 ms",
            ask="How often is the message sent?",
            where="message list",
            zero=False,
            instead="leave it out for a message sent on an event",
        ),
    ] = None
    minimum_gap_s: Annotated[
        Fact[float] | None,
        Field(
            "Least time between two, for a message sent on an event",
            Kind.TIME,
            "50 ms",
            ask="How close can two of these messages follow each other?",
            where="message list; else watch it on the bench",
            zero=False,
            instead='"?" while nobody knows it',
        ),
    ] = None
    jitter_s: Annotated[
        Fact[float],
        Field(
            "How much later than on time it may be ready to be sent",
            Kind.TIME,
            "1 ms",
            ask="By how much does the time of sending vary?",
            where="seldom stated; watch it on the bench",
        ),
    ] = Assumed(1e-3, "software starts a task up to a millisecond late; common practice")
    deadline_s: Annotated[
        Fact[float] | None,
        Field(
            "By when after being due it must have arrived; left out: before the next one is due",
            Kind.TIME,
            "10 ms",
            ask="By when must the message have arrived?",
            where="receiver's manual",
            zero=False,
            instead="leave it out: before the next one is due",
        ),
    ] = None
    packet_spacing_s: Annotated[
        Fact[float] | None,
        Field(
            "Time from one packet to the next where a J1939 line carries it in packets, waiting for its receiver "
            "included; left out: all that the protocol allows",
            Kind.TIME,
            "50 ms",
            ask="How much time does the sender leave from one packet to the next?",
            where="the sender's manual; else watch it on the bench",
            zero=False,
            instead="leave it out: 50 to 200 ms to everybody, up to 400 ms to one receiver",
        ),
    ] = None
    states: Annotated[
        tuple[str, ...],
        Field("States of the vehicle in which it is sent; left out: always", example='["drive", "charge"]'),
    ] = ()
    programmable: Annotated[
        bool, Field("Its identifier can be chosen, by a setting or in software of one's own", example="true")
    ] = False
    signals: Table[Signal] = field(default_factory=Table)


@dataclass(frozen=True, slots=True)
class MessageSet:
    """The messages of one manual or definition file."""

    title: Annotated[str, Field("What people call it", example='"Drive inverter"')] = ""
    manual: Annotated[
        str, Field("Document it comes from, with edition", example='"DI-60 integration manual, edition 5"')
    ] = ""
    definition: Annotated[str, Field("Definition file it was taken over from", example='"definitions/di60.dbc"')] = ""
    nodes: Annotated[
        tuple[str, ...],
        Field(
            "Which port each node of the definition file was said to be when it was taken over last",
            example='["INV=inverter.can"]',
        ),
    ] = ()
    sender: Annotated[str, Field("Port that sends what names no other sender", example='"inverter.can"')] = ""
    messages: Table[Message] = field(default_factory=Table)
