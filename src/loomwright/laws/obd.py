"""Readings of on-board diagnostics, service 01: which bytes mean what. Values stay in the unit that the service has."""

from dataclasses import dataclass

from loomwright.terms.fact import Source
from loomwright.terms.limit import Standing

SERVICE_01 = Source(
    "SAE J1979 / ISO 15031-5, service 01", "scaling of parameters; read in public tables that repeat it"
)
SERVICE_01_STANDING = Standing.SECONDARY

CURRENT_DATA = 0x01
ANSWER = 0x40
"""What an answer adds to the number of the service asked."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One parameter: its bytes, high byte first, times ``numerator / denominator``, plus ``offset``, in ``unit``."""

    number: int
    name: str
    unit: str
    byte_count: int
    numerator: float = 1.0
    denominator: float = 1.0
    offset: float = 0.0


PARAMETERS = (
    Parameter(0x05, "engine coolant temperature", "degC", 1, offset=-40.0),
    Parameter(0x0C, "engine speed", "rpm", 2, denominator=4.0),
    Parameter(0x0D, "vehicle speed", "km/h", 1),
    Parameter(0x0F, "intake air temperature", "degC", 1, offset=-40.0),
    Parameter(0x10, "mass air flow", "g/s", 2, denominator=100.0),
    Parameter(0x11, "throttle position", "%", 1, numerator=100.0, denominator=255.0),
)


@dataclass(frozen=True, slots=True)
class Decoded:
    """A parameter with the value that an answer gives it, in the parameter's unit."""

    parameter: Parameter
    value: float


def value_of(parameter: Parameter, data: bytes) -> float:
    """The value of a parameter from its bytes. Source: ``SERVICE_01``."""
    if len(data) != parameter.byte_count:
        raise ValueError(f"{parameter.name} takes {parameter.byte_count} bytes, not {len(data)}")
    return int.from_bytes(data, "big") * parameter.numerator / parameter.denominator + parameter.offset


def decoded(answer: bytes) -> Decoded | None:
    """Read an answer from its service byte on, padding allowed; ``None`` if it is none of the parameters known here.

    Raises ``ValueError`` if the answer is too short for its parameter.
    """
    if len(answer) < 2 or answer[0] != CURRENT_DATA + ANSWER:
        return None
    found = next((parameter for parameter in PARAMETERS if parameter.number == answer[1]), None)
    if found is None:
        return None
    return Decoded(found, value_of(found, answer[2 : 2 + found.byte_count]))
