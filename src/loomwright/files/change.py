"""A change of the model as new texts of the files: what ``write`` would put on the disk."""

import difflib
from collections.abc import Mapping
from typing import Any

from loomwright.files.edit import add_table, block_spans, drop_key, drop_table, newline_of, own_end, set_key
from loomwright.files.file import FORMAT, TABLES
from loomwright.files.load import Loaded, understood
from loomwright.files.render import Keys, keys_for, table_lines
from loomwright.files.scanner import KeyPath, scan
from loomwright.model.component import Component
from loomwright.model.line import Line, Station
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit, Path, path_text
from loomwright.terms.errors import RefusedWriteError
from loomwright.terms.field import fields_of

OWN_FILE: Mapping[str, type] = {"components": Component, "lines": Line}


def preview(loaded: Loaded, change: Change) -> dict[str, tuple[bytes, bytes]]:
    """Old and new bytes of every file that the change touches; ``b""`` stands for no file.

    Raises ``RefusedWriteError`` when the texts would not read back as exactly the changed vehicle.
    """
    return planned(loaded, change)[0]


def planned(loaded: Loaded, change: Change) -> tuple[dict[str, tuple[bytes, bytes]], Loaded]:
    """What ``preview`` tells, and what ``load`` would give once it is written."""
    if loaded.vehicle is None:
        raise RefusedWriteError("the project has problems; mend them first")
    texts = {name: raw.decode("utf-8") for name, raw in loaded.texts.items()}
    vehicle = loaded.vehicle
    for edit in change.edits:
        _apply(texts, vehicle, edit)
        vehicle = changed(vehicle, Change(change.title, (edit,)))
    new = {name: text.encode("utf-8") for name, text in texts.items() if text}
    again = understood(new)
    if again.vehicle != vehicle:
        reason = f": {again.problems[0].message}" if again.problems else ""
        raise RefusedWriteError(f"the files cannot say this change ({change.title}){reason}; nothing was written")
    names = sorted({*loaded.texts, *new})
    pairs = {name: (loaded.texts.get(name, b""), new.get(name, b"")) for name in names}
    return {name: pair for name, pair in pairs.items() if pair[0] != pair[1]}, again


def difference(name: str, old: bytes, new: bytes) -> str:
    """A unified difference of two texts, for people."""
    before, after = (raw.decode("utf-8", "replace").splitlines() for raw in (old, new))
    return "\n".join(difflib.unified_diff(before, after, name, name, lineterm="", n=2))


def project_texts(vehicle: Vehicle) -> dict[str, str]:
    """A whole project as fresh texts."""
    lines = [f"format = {FORMAT}", *table_lines(vehicle)]
    for axle in vehicle.axles:
        lines += ["", "[[axles]]", *table_lines(axle)]
    for key in TABLES:
        for name, value in getattr(vehicle, key).items():
            lines += ["", f"[{key}.{name}]", *table_lines(value)]
    texts = {"vehicle.toml": "\n".join(lines) + "\n"}
    for name, component in vehicle.components.items():
        texts[f"components/{name}.toml"] = _component_text(component)
    for name, line in vehicle.lines.items():
        texts[f"lines/{name}.toml"] = _line_text(line)
    return texts


def _component_text(component: Component) -> str:
    lines = table_lines(component)
    for name, port in component.ports.items():
        lines += ["", f"[ports.{name}]", *table_lines(port, component.manual)]
    return "\n".join(lines) + "\n"


def _line_text(line: Line) -> str:
    lines = table_lines(line)
    for station in line.stations:
        lines += ["", *_station_lines(station)]
    return "\n".join(lines).lstrip("\n") + "\n"


def _station_lines(station: Station) -> list[str]:
    return ["[[stations]]", *table_lines(station)]


def _apply(texts: dict[str, str], vehicle: Vehicle, edit: Edit) -> None:
    """Edit the text of the one file that a path lies in."""
    head, rest = edit.path[0], edit.path[1:]
    if head in OWN_FILE:
        file, rest = f"{head}/{rest[0]}.toml", rest[1:]
        if not rest:
            texts[file] = "" if edit.value is None else _whole_file(texts, vehicle, str(head), edit.value)
            return
        owner: Any = getattr(vehicle, str(head))[str(edit.path[1])]
        texts[file] = _inside(texts[file], owner, (), rest, edit, getattr(owner, "manual", ""))
        return
    texts["vehicle.toml"] = _inside(texts["vehicle.toml"], vehicle, (), edit.path, edit, "")


def _whole_file(texts: Mapping[str, str], vehicle: Vehicle, part: str, value: Any) -> str:
    """A new file; the copy, comments and all, of one that says exactly the same: a renamed or doubled component."""
    twin = next((name for name, other in getattr(vehicle, part).items() if other == value), None)
    if twin is not None:
        return texts[f"{part}/{twin}.toml"]
    return _component_text(value) if part == "components" else _line_text(value)


def _inside(text: str, owner: Any, at: KeyPath, rest: Path, edit: Edit, document: str) -> str:
    """Walk down to the table that holds the field, then set it."""
    step = rest[0]
    item = next((item for item in fields_of(type(owner)) if item.name == step), None)
    if item is not None and len(rest) == 1:
        return _put(text, at, keys_for(item, edit.value, document, _old(text, at, item.key)))
    inner = getattr(owner, str(step), None)
    if step == "stations" and isinstance(inner, tuple) and len(rest) <= 2:
        return _stations(text, inner, rest[1:], edit.value)
    if inner is None or len(rest) < 2:
        raise RefusedWriteError(f"{path_text(edit.path)} cannot be written")
    name = rest[1]
    if len(rest) == 2:
        header = f"[{'.'.join(map(str, (*at, step, name)))}]"
        lines = [] if edit.value is None else _table_lines(text, inner, (*at, step), edit.value, document)
        text = drop_table(text, (*at, step, name))
        return text if edit.value is None else add_table(text, header, lines)
    return _inside(text, inner[name], (*at, step, name), rest[2:], edit, document)


def _table_lines(text: str, inner: Mapping[str, Any], at: KeyPath, value: Any, document: str) -> list[str]:
    """Lines of a new table; those of one that says exactly the same, with its comments, where there is one."""
    twin = next((name for name, other in inner.items() if other == value), None)
    span = next((span for span in block_spans(text) if twin is not None and span[0] == (*at, twin)), None)
    if span is None:
        return table_lines(value, document)
    block = text[span[1] : own_end(text, span[1], span[2])].splitlines()
    head = next((number for number, line in enumerate(block) if line.lstrip().startswith("[")), 0)
    return [line for line in block[head + 1 :] if line.strip()]


def _old(text: str, at: KeyPath, key: str) -> str:
    mark = scan(text).marks.get((*at, key))
    return text[mark.value[0] : mark.value[1]] if mark is not None and not mark.table else ""


def _put(text: str, at: KeyPath, keys: Keys) -> str:
    for key in keys.drop:
        text = drop_key(text, at, key)
    above = ""
    for key, value in keys.put:
        text = set_key(text, at, key, value, above)
        above = key
    return text


def _stations(text: str, old: tuple[Station, ...], rest: Path, value: Any) -> str:
    """Replace, add or take out stations, moving the blocks that stay as they are, comments and all."""
    if rest:
        index = int(rest[0])
        new = old[:index] + (() if value is None else (value,)) + old[index + 1 :]
    else:
        new = value
    ends = newline_of(text)
    spans = [(start, end) for path, start, end in block_spans(text) if path[:1] == ("stations",)]
    if len(spans) != len(old):  # written as an inline list: take it out whole and write blocks
        text = drop_key(text, (), "stations")
        return "".join([text.rstrip() + ends, *(ends + ends.join(_station_lines(s)) + ends for s in new)])
    blocks = [text[start:end] for start, end in spans]
    free = list(range(len(old)))
    made = []
    for position, station in enumerate(new):
        like = [i for i in free if _same_stop(old[i], station)]
        if like:
            best = position if position in like else like[0]
            free.remove(best)
            made.append(_station_block(blocks[best], old[best], station))
        else:
            made.append(ends.join(_station_lines(station)) + ends)
    start, end = (spans[0][0], spans[-1][1]) if spans else (len(text), len(text))
    if len(made) == len(old) and all(
        m == b or _header_only(m) == _header_only(b) for m, b in zip(made, blocks, strict=True)
    ):
        return text[:start] + "".join(made) + text[end:]
    tail = text[end:]
    body = (ends + ends).join(block.strip("\r\n") for block in made)
    head = text[:start] if spans else text.rstrip() + (ends + ends if text.strip() else "")
    if not body:
        return head.rstrip() + ends + (ends + tail if tail.strip() else "")
    return head + body + ends + (ends + tail if tail.strip() else "")


def _same_stop(one: Station, other: Station) -> bool:
    if one.port or other.port:
        return one.port == other.port
    return one.at == other.at


def _header_only(block: str) -> str:
    """The line that names a block's stop, by which two versions of it are told to be the same."""
    return next((line for line in block.splitlines() if line.startswith(("port", "terminator"))), block)


def _station_block(block: str, old: Station, new: Station) -> str:
    """One station's own text with only the keys that differ set anew."""
    for item in fields_of(Station):
        value = getattr(new, item.name)
        if value != getattr(old, item.name):
            block = _put(block, ("stations", 0), keys_for(item, value, "", _old(block, ("stations", 0), item.key)))
    return block
