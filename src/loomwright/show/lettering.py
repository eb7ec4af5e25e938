"""How wide is a word? Advance widths of the shipped fonts, so that labels can be placed before anything is drawn."""

#: Inter 400 from U+0020 to U+007E, in 1/1000 of the size; read from the shipped file.
_REGULAR = (
    281, 288, 466, 633, 642, 982, 644, 300, 365, 365, 501, 662, 288, 460, 288, 360, 631, 407, 610, 618, 646, 593, 620,
    566, 619, 620, 288, 302, 662, 662, 662, 511, 966, 690, 654, 730, 722, 601, 590, 746, 743, 269, 571, 672, 565, 903,
    753, 765, 639, 765, 644, 642, 646, 744, 690, 985, 682, 679, 629, 365, 360, 365, 471, 456, 323, 562, 612, 571, 612,
    583, 370, 613, 591, 242, 242, 549, 242, 876, 591, 600, 612, 612, 376, 528, 327, 591, 562, 818, 546, 562, 552, 426,
    333, 426, 662,
)  # fmt: skip
#: The same of Inter 600.
_STRONG = (
    252, 321, 523, 644, 650, 1004, 663, 326, 373, 373, 540, 673, 319, 465, 319, 379, 660, 423, 623, 636, 666, 612, 640,
    576, 640, 640, 319, 329, 673, 673, 673, 543, 999, 728, 659, 737, 722, 605, 588, 749, 746, 277, 580, 703, 565, 922,
    759, 769, 645, 773, 652, 650, 660, 736, 728, 1020, 720, 713, 652, 373, 379, 373, 481, 469, 351, 574, 624, 583, 624,
    591, 389, 625, 612, 262, 262, 569, 262, 900, 612, 609, 624, 624, 397, 549, 353, 612, 587, 839, 569, 588, 566, 455,
    359, 455, 673,
)  # fmt: skip
_THIN = {
    "\u202f": 281,
    "\u00a0": 281,
    "\u2009": 200,
    "\u00b7": 288,
    "\u2026": 864,
    "\u03a9": 770,
    "\u00b0": 456,
    "\u00b2": 442,
}
_OTHER = 690
_WIDE = 1000
_FIGURE = 600


def words_px(text: str, size_px: float, *, strong: bool = False) -> float:
    """Width of a text in Inter, in pixels. A letter outside the table counts as a wide capital."""
    table = _STRONG if strong else _REGULAR
    return sum(_advance(letter, table) for letter in text) * size_px / 1000.0


def figures_px(text: str, size_px: float) -> float:
    """Width of a text in JetBrains Mono, in pixels: every figure is 0.6 of the size."""
    return len(text) * size_px * _FIGURE / 1000.0


def shortened(text: str, most: int) -> str:
    """The text, or its beginning with an ellipsis where it has more letters than that."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def _advance(letter: str, table: tuple[int, ...]) -> int:
    code = ord(letter) - 0x20
    if 0 <= code < len(table):
        return table[code]
    return _THIN.get(letter, _OTHER if ord(letter) < 0x2E80 else _WIDE)
