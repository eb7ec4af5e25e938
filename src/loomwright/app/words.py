"""Words that a face hands over to be read as quantities."""

from loomwright.files.quantity import QuantityError, parse_quantity
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.quantity import Kind


class UnreadableWordError(LoomwrightError):
    """A word that should be a quantity is none; the message says what was expected."""


def read_length(text: str) -> float:
    """A length in metres from text such as ``4.60 m``. Raises ``UnreadableWordError``."""
    return _read(text, Kind.LENGTH)


def read_ohms(text: str) -> float:
    """A resistance in ohms from text such as ``120 ohm``. Raises ``UnreadableWordError``."""
    return _read(text, Kind.RESISTANCE)


def _read(text: str, kind: Kind) -> float:
    try:
        return parse_quantity(text, kind)
    except QuantityError as error:
        raise UnreadableWordError(f"{text!r}: {error}") from error
