"""The text of a .dbc file as statements, so that one bad statement does not cost the whole file.

Whatever is cut gives way to empty lines, so that line numbers stay.
"""

import re
from bisect import bisect_right
from collections.abc import Callable

_WORDS = (
    "BA_DEF_DEF_REL_|BA_DEF_DEF_|BA_DEF_REL_|BA_DEF_SGTYPE_|BA_DEF_|BA_REL_|BA_SGTYPE_|BA_|BO_TX_BU_|BO_|BS_|BU_|CAT_DEF_|"
    "CAT_|CM_|ENVVAR_DATA_|EV_DATA_|EV_|FILTER|NS_|SG_MUL_VAL_|SGTYPE_VAL_|SGTYPE_|SG_|SIG_GROUP_|SIG_TYPE_REF_|"
    "SIG_VALTYPE_|SIGTYPE_VALTYPE_|VAL_TABLE_|VAL_|VERSION"
)
_STRING = r'"(?:\\"|[^"])*"'
_STATEMENT = re.compile(rf"{_STRING}|^[ \t]*(?P<word>{_WORDS})(?!\w)", re.MULTILINE)
_NUMBERED = re.compile(
    rf"{_STRING}|(?<!\w)(?P<word>BO_|SG_|VAL_|SIG_VALTYPE_|SG_MUL_VAL_|BO_TX_BU_|SIG_GROUP_|BU_BO_REL_\s+\w+)(?P<gap>\s+)(?P<number>\d+)(?!\w)"
)
_ABOUT = re.compile(
    r'^[ \t]*(?P<word>CM_|BA_|SG_MUL_VAL_|SIG_GROUP_|BO_TX_BU_)\s+(?:"[^"]*"\s+)?(?:(?P<of>BO_|SG_)\s+)?'
    r"(?P<number>\d+)(?:\s+(?P<name>\w+))?",
    re.MULTILINE,
)
_STRINGS = re.compile(_STRING)
_DEFINING = ("BA_DEF_", "BA_DEF_DEF_")
_DEFINED = re.compile(r'^[ \t]*(?P<word>BA_DEF_DEF_|BA_DEF_)\s+(?:[A-Z]+_\s+)?"(?P<name>\w+)"', re.MULTILINE)
_HEADS = ("VERSION", "NS_", "BS_", "BU_", "FILTER")
_FORMS = {
    "BO_": re.compile(r"\s+\d+\s+\w+\s*:\s*\d+\s+(?P<last>\w+)"),
    "SG_": re.compile(
        rf"\s+\w+(?:\s+m?\d*M?)?\s*:\s*\d+\|\d+@[01][+-]\s*\([^()]*\)\s*\[[^\[\]]*\]\s*{_STRING}\s*"
        r"(?:\w+\s*,?\s*)*?(?P<last>\w+)"
    ),
}
"""Statements that end without a sign of their own."""
_SELECTED = re.compile(r"m(\d+)M?")
_UNASSIGNED = "VECTOR__INDEPENDENT_SIG_MSG"
_LEAST_WIDE, _BEYOND, _WIDE = 0x800, 0x2000_0000, 0x8000_0000
SHOWN = 60
"""Signs of a statement that are shown where it is told."""


def line_of(text: str, at: int) -> int:
    """The number of the line in which a sign stands, from 1."""
    return text.count("\n", 0, at) + 1


def without_statement(text: str, at: int) -> tuple[str, str]:
    """The text without the statement that is wrong at a sign, and where and how that one begins.

    What is wrong at its very first word is the statement before, which lacks its end. A message goes with its signals.
    """
    found = [
        (match.start(), match.start("word"), match["word"]) for match in _STATEMENT.finditer(text) if match["word"]
    ]
    starts = [start for start, _, _ in found]
    number = bisect_right(starts, at) - 1
    if number > 0 and at <= found[number][1]:
        number -= 1
        begin = starts[number]
    elif number < 0:
        begin = 0
    else:
        begin = _beginning(text, starts[number], at, found[number][2])
    behind = number + 1
    if number >= 0 and found[number][2] == "BO_" and begin == starts[number]:
        while behind < len(found) and found[behind][2] == "SG_":
            behind += 1
    end = starts[behind] if behind < len(starts) else len(text)
    return _cut(text, begin, end)


def without(text: str, word: str, rest: Callable[[str], bool]) -> tuple[str, list[str]]:
    """The text without every statement that begins with a word and whose remaining words are wanted gone.

    A message goes with its signals.
    """
    found = [(match.start(), match.end(), match["word"]) for match in _STATEMENT.finditer(text) if match["word"]]
    told = []
    for number in range(len(found) - 1, -1, -1):
        begin, after, kind = found[number]
        behind = number + 1
        if kind == "BO_":
            while behind < len(found) and found[behind][2] == "SG_":
                behind += 1
        if kind == word and rest(text[after : after + 200]):
            text, place = _cut(text, begin, found[behind][0] if behind < len(found) else len(text))
            told.append(place)
    return text, told[::-1]


def widened(text: str) -> tuple[str, list[str]]:
    """Identifiers above 11 bits that lack the mark of 29 bits get it; which those are.

    A 29-bit identifier has bit 31 set in these files. Without it nothing else can be meant by a number above 0x7FF.
    """
    wide: dict[int, None] = {}

    def marked(match: re.Match[str]) -> str:
        if not match["word"] or not _LEAST_WIDE <= int(match["number"]) < _BEYOND:
            return match[0]
        wide[int(match["number"])] = None
        return f"{match['word']}{match['gap']}{int(match['number']) | _WIDE}"

    made = _NUMBERED.sub(marked, text)
    return made, [f"{number:#x}" for number in wide]


def too_wide(rest: str) -> bool:
    """Whether the words behind ``BO_`` begin with a number that no frame can have as its identifier."""
    number = int(rest.split(maxsplit=1)[0])
    return number & _WIDE - 1 >= _BEYOND and _UNASSIGNED not in rest


def orphans(text: str) -> list[str]:
    """Statements about a message, or a signal of one, that the file does not have: they are read by nobody."""
    known: dict[int, set[str]] = {}
    signals: set[str] = set()
    for match in _STATEMENT.finditer(text):
        if match["word"] == "BO_":
            number = text[match.end() : match.end() + 50].split(maxsplit=1)[0]
            signals = known.setdefault(int(number), set())
        elif match["word"] == "SG_":
            signals.add(text[match.end() : match.end() + 200].split(maxsplit=1)[0].rstrip(":"))
    found = []
    for match in _ABOUT.finditer(text):
        if match["word"] in ("CM_", "BA_") and match["of"] is None:
            continue  # about the file, a node or a variable
        names = known.get(int(match["number"]))
        of_signal = match["of"] == "SG_" or match["word"] == "SG_MUL_VAL_"
        if names is None or (of_signal and match["name"] not in names):
            found.append(f"line {line_of(text, match.start())}: {' '.join(match[0].split())}")
    return found


def selected(text: str) -> dict[tuple[int, str], int]:
    """Signals that stand as selected by a value (``m3``): the message's number and the signal's name, and the value."""
    found: dict[tuple[int, str], int] = {}
    number = -1
    for match in _STATEMENT.finditer(text):
        rest = text[match.end() : match.end() + 200].split(maxsplit=2) if match["word"] in ("BO_", "SG_") else []
        if match["word"] == "BO_" and rest[0].isdigit():
            number = int(rest[0])
        elif len(rest) > 1 and (marker := _SELECTED.fullmatch(rest[1].rstrip(":"))):
            found[number, rest[0]] = int(marker[1])
    return found


def unassigned(text: str) -> list[str]:
    """The signals that stand in the message that holds those of no message."""
    inside, found = False, []
    for match in _STATEMENT.finditer(text):
        if match["word"] == "BO_":
            inside = _UNASSIGNED in text[match.end() : text.find("\n", match.end())]
        elif match["word"] == "SG_" and inside:
            found.append(text[match.end() : match.end() + 200].split(maxsplit=1)[0])
        elif match["word"]:
            inside = False
    return found


def torn_at(text: str) -> int:
    """The last line of a file that ends in the middle of a statement, or before its first message; else 0.

    A statement without an end of its own is held against its full form; where no line end follows, its last word must
    be a node of the file; where the file ends among the definitions of attributes, each must have its default. Cut just
    behind another statement, a file looks whole.
    """
    whole = text.rstrip()
    found = [match for match in _STATEMENT.finditer(whole) if match["word"]]
    if not found:
        return 0
    last, words = found[-1], {match["word"] for match in found}
    rest, line = whole[last.end() :], line_of(whole, len(whole))
    if len(_STRINGS.sub("", rest).split('"')) > 1:
        return line
    form = _FORMS.get(last["word"])
    ended = "\n" in text[len(whole) :]
    if last["word"] in _HEADS:
        return 0 if "BO_" in words else line
    if form is None:
        closed = rest.endswith(";") or (ended and rest.endswith('"'))
        defined, given = ({m["name"] for m in _DEFINED.finditer(whole) if m["word"] == word} for word in _DEFINING)
        return 0 if closed and (last["word"] not in _DEFINING or defined <= given) else line
    match = form.fullmatch(rest)
    if match is None:
        return line
    nodes = {node for head in found if head["word"] == "BU_" for node in _nodes(whole, head.end())}
    return 0 if ended or not nodes or match["last"] in nodes or match["last"].lower().startswith("vector__") else line


def _nodes(text: str, after: int) -> list[str]:
    """The words behind ``BU_``, up to the next statement."""
    following = _STATEMENT.search(text, after)
    while following is not None and not following["word"]:
        following = _STATEMENT.search(text, following.end())
    return text[after : following.start() if following else len(text)].lstrip(" :").split()


def _beginning(text: str, start: int, at: int, word: str) -> int:
    """Where the bad part of a statement begins: at its start, or behind its end where something foreign follows."""
    before = text[start:at]
    if before.rstrip().endswith(";"):
        return at
    if word in ("BO_", "SG_") and "\n" in before.rstrip(" \t"):
        return text.rfind("\n", start, at) + 1
    return start


def _cut(text: str, begin: int, end: int) -> tuple[str, str]:
    words = " ".join(text[begin:end].split())
    shown = words if len(words) <= SHOWN else f"{words[:SHOWN]}..."
    place = f"line {line_of(text, begin)}: {shown}"
    return text[:begin] + "\n" * text.count("\n", begin, end) + text[end:], place
