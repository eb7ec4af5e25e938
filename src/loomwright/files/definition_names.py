"""Names of a definition file as names of a project: small letters, digits and _, beginning with a letter, each once."""

import re
from collections.abc import Iterable

from loomwright.files.disk import NAME

TITLE = 70
"""Signs up to which a comment becomes a title."""

PREFIXES = ("m", "s")
"""What is put before names of messages and of signals that begin with no letter."""
_HUMP = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_OTHER = re.compile(r"[^a-z0-9]+")


def our_name(theirs: str, prefix: str) -> str:
    """``MotorSpeed`` as ``motor_speed``; what does not begin with a letter then gets a prefix."""
    if NAME.fullmatch(theirs):
        return theirs
    made = _OTHER.sub("_", _HUMP.sub("_", theirs).lower()).strip("_")
    return made if NAME.fullmatch(made) else f"{prefix}_{made}".rstrip("_")


def our_names(theirs: Iterable[str], prefix: str) -> list[str]:
    """The names of several things that stand in one table; a later one that would be the same is numbered."""
    found: dict[str, None] = {}
    wanted = [our_name(each, prefix) for each in theirs]
    taken = set(wanted)
    for name in wanted:
        made, number = name, 2
        while made in found or (made != name and made in taken):
            made, number = f"{name}_{number}", number + 1
        found[made] = None
    return list(found)


def title_of(theirs: str, ours: str, comment: str) -> str:
    """The name in the file where ours is another, and the comment where it is short: ``Motor_Speed: of the shaft``."""
    said = comment if 0 < len(comment) <= TITLE and comment.isprintable() and comment != theirs else ""
    if theirs == ours and their_name(said, ours) == ours:
        return said
    return f"{theirs}: {said}" if said else theirs


def their_name(title: str, ours: str) -> str:
    """The name in a definition file that a title keeps, or ours where it keeps none."""
    head = title.partition(": ")[0]
    plain = re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", head)
    alike = plain and any(re.fullmatch(rf"{re.escape(our_name(head, each))}(_\d+)?", ours) for each in PREFIXES)
    return head if alike else ours
