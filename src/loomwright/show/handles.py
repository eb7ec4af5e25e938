"""What a page can take hold of: shapes that can be focused, with an area around them that a finger can hit."""

REACH = 9.0
"""Pixels around a small shape that take hold of it."""


def handle(kind: str, label: str) -> dict[str, str]:
    """Attributes of a shape that one works with: ``data-handle`` tells what it is, the label is spoken."""
    return {"tabindex": "0", "role": "button", "aria_label": label, "data_handle": kind}
