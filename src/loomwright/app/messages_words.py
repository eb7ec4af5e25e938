"""What messages are called on pages."""

from loomwright.model.message import Message
from loomwright.model.speech import message_at
from loomwright.model.vehicle import Vehicle
from loomwright.show.names import spoken


def title_of(vehicle: Vehicle, name: str) -> str:
    """What a message such as "inverter.status_1" is called; its own name as a word where it has no title."""
    message = message_at(vehicle.messages, name)
    return named(name.partition(".")[2], message)


def named(own: str, message: Message | None) -> str:
    """The title of a message, else its own name as a word."""
    return (message.title if message is not None else "") or spoken(own)


def line_title(vehicle: Vehicle, line: str) -> str:
    """What people call a line."""
    item = vehicle.lines.get(line)
    return (item.title if item is not None else "") or spoken(line)
