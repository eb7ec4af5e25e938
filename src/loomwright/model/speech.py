"""The part of a vehicle that its traffic depends on, so that moving a component or a cable changes nothing here."""

from dataclasses import dataclass

from loomwright.model.component import Component, Forward, Need, Port
from loomwright.model.line import Line, Station
from loomwright.model.message import Message, MessageSet
from loomwright.model.table import Table
from loomwright.model.vehicle import Chain, Vehicle
from loomwright.terms.fact import Fact


@dataclass(frozen=True, slots=True)
class Voice:
    """What a component can say and needs to hear."""

    role: str
    ports: Table[Port]
    needs: Table[Need]
    forwards: Table[Forward]
    cycle_s: Fact[float] | None


@dataclass(frozen=True, slots=True)
class Medium:
    """A line as its traffic sees it: the ports on it, without their order, and how fast they talk."""

    ports: frozenset[str]
    protocol: str
    bit_rate_bit_per_s: Fact[float]
    data_bit_rate_bit_per_s: Fact[float]
    identifiers: Fact[str]
    frames: str
    load_limit: float | None
    errors_at_once: int
    error_gap_s: float | None


@dataclass(frozen=True, slots=True)
class Speech:
    """Everything that is said in a vehicle, and who is there to hear it."""

    voices: Table[Voice]
    media: Table[Medium]
    sets: Table[MessageSet]
    chains: Table[Chain]
    states: tuple[str, ...]


def speech_of(vehicle: Vehicle) -> Speech:
    """The part of a vehicle that its traffic depends on."""
    return Speech(
        Table({name: _voice(component) for name, component in vehicle.components.items()}),
        Table({name: _medium(line) for name, line in vehicle.lines.items()}),
        vehicle.messages,
        vehicle.chains,
        vehicle.states,
    )


def spoken(speech: Speech) -> Vehicle:
    """A vehicle that holds nothing but what is said, so that a change can be tried on it."""
    return Vehicle(
        "",
        0.0,
        0.0,
        states=speech.states,
        chains=speech.chains,
        components=Table({name: _component(voice) for name, voice in speech.voices.items()}),
        lines=Table({name: _line(medium) for name, medium in speech.media.items()}),
        messages=speech.sets,
    )


def message_and_signal(words: str) -> tuple[str, str]:
    """The message that a need names, and the signal in it; empty where the whole message is meant."""
    parts = words.split(".")
    return ".".join(parts[:2]), parts[2] if len(parts) > 2 else ""


def message_at(sets: Table[MessageSet], name: str) -> Message | None:
    """The message of a name such as "inverter.status_1"; what follows the second dot is passed over."""
    parts = name.split(".")
    found = sets.get(parts[0])
    return found.messages.get(parts[1]) if found is not None and len(parts) > 1 else None


def sender_of(sets: Table[MessageSet], name: str) -> str:
    """The port that sends a message; empty for one that a receiver's manual describes."""
    message = message_at(sets, name)
    if message is None or message.expected_by:
        return ""
    return message.sender or sets[name.partition(".")[0]].sender


def _voice(component: Component) -> Voice:
    return Voice(component.role, component.ports, component.needs, component.forwards, component.cycle_s)


def _medium(line: Line) -> Medium:
    return Medium(
        frozenset(station.port for station in line.stations if station.port),
        line.protocol,
        line.bit_rate_bit_per_s,
        line.data_bit_rate_bit_per_s,
        line.identifiers,
        line.frames,
        line.load_limit,
        line.errors_at_once,
        line.error_gap_s,
    )


def _component(voice: Voice) -> Component:
    return Component(
        voice.role, "", ports=voice.ports, needs=voice.needs, forwards=voice.forwards, cycle_s=voice.cycle_s
    )


def _line(medium: Medium) -> Line:
    return Line(
        protocol=medium.protocol,
        bit_rate_bit_per_s=medium.bit_rate_bit_per_s,
        data_bit_rate_bit_per_s=medium.data_bit_rate_bit_per_s,
        identifiers=medium.identifiers,
        frames=medium.frames,
        load_limit=medium.load_limit,
        errors_at_once=medium.errors_at_once,
        error_gap_s=medium.error_gap_s,
        stations=tuple(Station(port) for port in sorted(medium.ports)),
    )
