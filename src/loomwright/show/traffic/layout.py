"""The layout of a frame: whose each bit is."""

from loomwright.model.message import Message
from loomwright.show.svg import box, drawing, group, words
from loomwright.show.traffic.parts import MARGIN, WIDTH, head
from loomwright.solve.layouts import bits_of
from loomwright.terms.change import Path


def frame_layout(name: str, message: Message, *, standalone: bool = True, width: float = WIDTH) -> str:
    """A frame as its bits, bit 7 left, a row for each byte, ``width`` pixels wide, as SVG."""
    file, _, own = name.partition(".")
    path: Path = ("messages", file, "messages", own)
    top, y = head(message.title or own, f"{message.length} bytes", 0, standalone=standalone)
    shapes = [group(path, top)]
    for number, (signal_name, signal) in enumerate(message.signals.items()):
        cells = [
            box(MARGIN + 30 + (7 - bit % 8) * 40, y + bit // 8 * 26, 40, 26, f"bar ink-{(1, 5, 4)[number % 3]}")
            for bit in bits_of(signal)
        ]
        shapes.append(group((*path, "signals", signal_name), *cells, title=signal_name))
        shapes.append(words((MARGIN + 400, y + 12 + number * 20), signal_name))
    height = y + 26 * max(message.length, len(message.signals)) + 30
    return drawing(width, height, f"{name}: layout", *shapes, standalone=standalone)
