"""A change of the model as new texts of the files: what ``write`` would put on the disk.

The changed vehicle is compared with the one that was read, field by field, and only what differs is written.
"""

import difflib
from collections.abc import Collection, Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any

from loomwright.files.disk import BODY, NAME, NAME_RULE
from loomwright.files.edit import Editor, Words, braces
from loomwright.files.entries import matched, staying
from loomwright.files.load import FORMAT, Loaded, understood
from loomwright.files.render import keys_of, plain_default, table_lines, toml
from loomwright.files.scanner import KeyPath
from loomwright.files.schema import FOLDERS, shape_of
from loomwright.files.text import without_mark
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Path, path_text
from loomwright.terms.errors import RefusedWriteError
from loomwright.terms.fact import Assumed, Known, Unknown

Pairs = dict[str, tuple[bytes, bytes]]
"""Old and new bytes by file name; ``b""`` stands for no file."""


def preview(loaded: Loaded, change: Change) -> Pairs:
    """Old and new bytes of every file that a change touches; ``b""`` stands for no file.

    Raises ``RefusedWriteError`` where the new texts would not load as exactly the changed vehicle, and ``PathError``
    for a path that the vehicle does not have.
    """
    return planned(loaded, change)[0]


def planned(loaded: Loaded, change: Change) -> tuple[Pairs, Loaded]:
    """What ``preview`` tells, and what ``load`` gives once it is written."""
    if loaded.vehicle is None or loaded.problems:
        raise RefusedWriteError("the project has problems; nothing can be written before they are mended")
    target = changed(loaded.vehicle, change)
    edited = {
        edit.path[: at + 1] for edit in change.edits for at, step in enumerate(edit.path[:-1]) if _is_number(step)
    }
    try:
        new = _Rewriter(loaded, frozenset(edited)).texts(loaded.vehicle, target)
    except UnicodeEncodeError as error:
        raise RefusedWriteError(f"{error.object[error.start : error.end]!r} is no text that UTF-8 can hold") from error
    again = understood(new)
    _must_say(again, target, change.title)
    names = sorted({*loaded.texts, *new})
    pairs = {name: (loaded.texts.get(name, b""), new.get(name, b"")) for name in names}
    return {name: (old, put) for name, (old, put) in pairs.items() if old != put}, again


def difference(name: str, old: bytes, new: bytes) -> str:
    """The unified difference of two versions of a file, with file names from the project's folder."""
    before, after = (raw.decode("utf-8", "replace").splitlines() for raw in (old, new))
    names = (name if old else "(no file)", name if new else "(no file)")
    return "\n".join(difflib.unified_diff(before, after, *names, lineterm="", n=2))


def with_new_files(loaded: Loaded, part: str, values: Mapping[str, Any]) -> Loaded:
    """What ``load`` gives once these new files are written, by name within a folder; problems in other files may stay.

    Raises ``RefusedWriteError`` for a name that is none, or is taken.
    """
    ends = "\r\n" if b"\r\n" in loaded.texts.get(BODY, b"") else "\n"
    new = {f"{part}/{_name(name)}.toml": _file_text(value).replace("\n", ends) for name, value in values.items()}
    if taken := new.keys() & loaded.texts.keys():
        raise RefusedWriteError(f"there is a {min(taken)} already")
    return understood({**loaded.texts, **{file: text.encode("utf-8") for file, text in new.items()}})


def project_texts(vehicle: Vehicle) -> dict[str, bytes]:
    """The files of a whole new project. Raises ``RefusedWriteError`` for a vehicle that no files can say."""
    texts = {BODY: "\n".join([f"format = {FORMAT}", _object_text(vehicle)])}
    for part in FOLDERS:
        for name, value in getattr(vehicle, part).items():
            texts[f"{part}/{_name(name)}.toml"] = _file_text(value)
    try:
        new = {file: text.encode("utf-8") for file, text in texts.items()}
    except UnicodeEncodeError as error:
        raise RefusedWriteError(f"{error.object[error.start : error.end]!r} is no text that UTF-8 can hold") from error
    _must_say(understood(new), vehicle, "a new project")
    return new


def _must_say(again: Loaded, target: Vehicle, title: str) -> None:
    """Refuse texts that do not load as the vehicle they were made for."""
    if again.problems:
        first = again.problems[0]
        raise RefusedWriteError(f"{title or 'the change'} would leave {first.file} wrong: {first.message}")
    if again.vehicle != target and settled(again.vehicle) != settled(target):
        raise RefusedWriteError(f"the files cannot say exactly this: {title or 'the change'}; nothing was written")


def settled(value: Any) -> Any:
    """A model value as a file can hold it.

    A bound that is missing beside another is the value itself, and where to look for an unknown is not kept, because
    the field itself tells that.
    """
    if isinstance(value, Unknown):
        return replace(value, where="")
    if isinstance(value, (Known, Assumed)) and (value.low is None) != (value.high is None):
        value = replace(
            value,
            low=value.value if value.low is None else value.low,
            high=value.value if value.high is None else value.high,
        )
    if isinstance(value, tuple):
        return tuple(settled(each) for each in value)
    if isinstance(value, Table):
        return Table({name: settled(each) for name, each in value.items()})
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{field.name: settled(getattr(value, field.name)) for field in fields(value)})
    return value


class _Rewriter:
    """Brings the texts of a project from one vehicle to another."""

    def __init__(self, loaded: Loaded, edited: frozenset[Path]) -> None:
        self.old = loaded.texts
        self.edited = edited

    def texts(self, old: Vehicle, new: Vehicle) -> dict[str, bytes]:
        made = dict(self.old)
        if any(
            getattr(old, field.name) != getattr(new, field.name) for field in fields(new) if field.name not in FOLDERS
        ):
            made[BODY] = self.rewritten(BODY, old, new, ())
        for part in FOLDERS:
            before, after = getattr(old, part), getattr(new, part)
            for name in (name for name in before if name not in after):
                made.pop(f"{part}/{name}.toml")
            for name, value in after.items():
                file = f"{part}/{_name(name)}.toml"
                if name not in before:
                    made[file] = self.new_file(part, before, after, value)
                elif value != before[name]:
                    made[file] = self.rewritten(file, before[name], value, (part, name))
        return made

    def rewritten(self, file: str, old: Any, new: Any, path: Path) -> bytes:
        mark, text = without_mark(self.old[file].decode("utf-8"))
        editor = Editor(text)
        self.sync(editor, (), old, new, path)
        return (mark + (editor.result() or _file_text(new))).encode("utf-8")

    def new_file(self, part: str, before: Table[Any], after: Table[Any], value: Any) -> bytes:
        """The text of a new file; that of one which says the same, comments and all, where there is one (a new name)."""
        twin = _twin(before, before.keys() - after.keys(), value)
        if twin is not None:
            return self.old[f"{part}/{twin}.toml"]
        ends = "\r\n" if b"\r\n" in self.old[BODY] else "\n"
        return _file_text(value).replace("\n", ends).encode("utf-8")

    def sync(
        self, editor: Editor, at: KeyPath, old: Any, new: Any, path: Path, documents: tuple[str, str] = ("", "")
    ) -> None:
        """Bring the text of one object from ``old`` to ``new``; ``documents`` are the manuals then and now."""
        shape = shape_of(new.__class__)
        if "manual" in shape.slots:
            documents = (old.manual, new.manual)
        wanted: dict[str, Words] = {}
        for slot in shape.slots.values():
            was = keys_of(slot, getattr(old, slot.item.name), documents[0])
            now = keys_of(slot, getattr(new, slot.item.name), documents[1])
            if was == now:
                continue
            for key in slot.keys:
                present = editor.value(at, key)
                if key in now and not (present and was.get(key) == now[key]):
                    said = now[key]
                    parts = [toml(each, present) for each in said] if isinstance(said, tuple) else None
                    wanted[key] = toml(said, present) if parts is None else parts
                elif present and key not in now:
                    default = plain_default(slot) if key == slot.key else None
                    wanted[key] = None if default is None else toml(default, present)
        if wanted:
            editor.set_keys(at, wanted, [key for slot in shape.slots.values() for key in slot.keys])
        for key in shape.tables:
            self.sync_table(editor, (*at, key), getattr(old, key), getattr(new, key), (*path, key), documents)
        for key in shape.lists:
            if getattr(old, key) != getattr(new, key):
                self.sync_list(editor, (*at, key), getattr(old, key), getattr(new, key), (*path, key))

    def sync_table(
        self, editor: Editor, at: KeyPath, old: Table[Any], new: Table[Any], path: Path, documents: tuple[str, str]
    ) -> None:
        mark = editor.found.marks.get(at)
        if mark is not None and mark.form == "key" and old.keys() != new.keys():
            self.sync_braces(editor, at, old, new, documents)
            return
        gone = [name for name in old if name not in new]
        for name, value in new.items():
            if name not in old:
                twin = _twin(old, gone, value) if documents[0] == documents[1] else None
                if twin in gone and editor.rename_table((*at, twin), _name(name)):
                    gone.remove(twin)
                    continue
                lines = editor.lines_of((*at, twin)) if twin is not None and not _holds_tables(value) else None
                place = (*at, _name(name))
                editor.add_table(place, _entry_lines(value, place, documents[1]) if lines is None else lines)
            elif value != old[name] or documents[0] != documents[1]:
                self.sync(editor, (*at, name), old[name], value, (*path, name), documents)
        for name in gone:
            editor.drop_table((*at, name))

    def sync_braces(
        self, editor: Editor, at: KeyPath, old: Table[Any], new: Table[Any], documents: tuple[str, str]
    ) -> None:
        """The same for a table written as ``{ name = { ... } }`` that gains or loses names: it is put together anew."""
        mark = editor.found.marks[at]
        written = [name for name in old if editor.value(at, name)]
        if len(written) != len(old):
            raise RefusedWriteError(
                f"dotted keys in {path_text(at)} = {{...}} cannot be edited; write them on lines of their own"
            )
        written.sort(key=lambda name: editor.found.marks[*at, name].start)
        texts = {
            name: self.inline(editor.value(at, name), old[name], new[name], documents)
            for name in written
            if name in new
        }
        texts |= {
            _name(name): braces(_inline_parts(value, documents[1])) for name, value in new.items() if name not in old
        }
        editor.splice(mark.start, mark.end, braces([f"{name} = {text}" for name, text in texts.items()]))

    def inline(self, text: str, old: Any, new: Any, documents: tuple[str, str] = ("", "")) -> str:
        """The text of a table in braces with what is new in it."""
        inner = Editor(f"x = {text}")
        self.sync(inner, ("x",), old, new, (), documents)
        return inner.result().removeprefix("x = ")

    def sync_list(self, editor: Editor, at: KeyPath, old: tuple[Any, ...], new: tuple[Any, ...], path: Path) -> None:
        edited = {int(each[-1]) for each in self.edited if each[:-1] == path}
        partners = matched(old, new, edited)
        mark = editor.found.marks.get(at)
        if mark is not None and mark.form == "key" and old:
            self.sync_inline(editor, at, old, new, partners)
            return
        if mark is not None and mark.form == "key":  # an empty list gives way to tables
            editor.set_keys(at[:-1], {str(at[-1]): None}, (str(at[-1]),))
        blocks = {block.path: block for block in editor.blocks}
        stay = staying(partners)
        for number in set(range(len(old))) - stay:
            editor.drop_block(blocks[*at, number])
        below: int | None = blocks[*at, len(old) - 1].end if old and not stay else None
        waiting: list[str] = []
        for value, partner in zip(new, partners, strict=True):
            if partner is None:
                waiting.append(editor.newline.join([f"[[{at[-1]}]]", *table_lines(value)]))
            elif partner in stay:
                block = blocks[*at, partner]
                editor.add_blocks(waiting, below=below, above=block.start if below is None else None)
                waiting, below = [], block.end
                if value != old[partner]:
                    self.sync(editor, (*at, partner), old[partner], value, (*path, partner))
            else:
                block = blocks[*at, partner]
                waiting.append(self.moved(editor.text[block.start : block.end], at, old[partner], value))
        editor.add_blocks(waiting, below=below)

    def moved(self, text: str, at: KeyPath, old: Any, new: Any) -> str:
        """The text of a block that moves, with what is new in it."""
        inner = Editor(text)
        self.sync(inner, (*at, 0), old, new, ())
        return inner.result()

    def sync_inline(
        self, editor: Editor, at: KeyPath, old: tuple[Any, ...], new: tuple[Any, ...], partners: list[int | None]
    ) -> None:
        """The same for a list written in brackets."""
        if partners == list(range(len(old))):
            for number, value in enumerate(new):
                if value != old[number]:
                    self.sync(editor, (*at, number), old[number], value, (*at, number))
            return
        mark = editor.found.marks[at]
        raw, before = [], mark.start
        for number in range(len(old)):
            entry = editor.found.marks[*at, number]
            raw.append(editor.text[entry.start : entry.end])
            _no_comment(editor.text[before : entry.start], at)
            before = entry.end
        _no_comment(editor.text[before : mark.end], at)
        parts = []
        for value, partner in zip(new, partners, strict=True):
            if partner is None:
                parts.append(braces(table_lines(value)))
            else:
                parts.append(self.inline(raw[partner], old[partner], value))
        ends = editor.newline
        many = f"[{ends}    {f',{ends}    '.join(parts)},{ends}]" if "\n" in editor.text[mark.start : mark.end] else ""
        editor.splice(mark.start, mark.end, many if many and parts else f"[{', '.join(parts)}]")


def _holds_tables(value: Any) -> bool:
    return any(getattr(value, key) for key in shape_of(value.__class__).tables)


def _entry_lines(value: Any, at: KeyPath, document: str) -> list[str]:
    """The lines below the header of a table, with the tables inside it."""
    lines = table_lines(value, document)
    for key in shape_of(value.__class__).tables:
        for name, entry in getattr(value, key).items():
            inside = (*at, key, _name(name))
            lines += ["", f"[{'.'.join(str(step) for step in inside)}]", *_entry_lines(entry, inside, document)]
    return lines


def _inline_parts(value: Any, document: str) -> list[str]:
    """The parts of a table in braces, with the tables inside it."""
    parts = table_lines(value, document)
    for key in shape_of(value.__class__).tables:
        inside = [
            f"{_name(name)} = {braces(_inline_parts(each, document))}" for name, each in getattr(value, key).items()
        ]
        parts += [f"{key} = {braces(inside)}"] if inside else []
    return parts


def _no_comment(text: str, at: KeyPath) -> None:
    if "#" in text:
        raise RefusedWriteError(
            f"comments between the entries of {path_text(at)} = [...] would be lost; write them as [[{at[-1]}]] tables"
        )


def _twin(before: Table[Any], gone: Collection[str], value: Any) -> str | None:
    """The name of an old entry that says exactly the same, best one that goes: the new entry is its new name."""
    alike = [name for name, other in before.items() if other == value]
    return next((name for name in alike if name in gone), alike[0] if alike else None)


def _name(name: str) -> str:
    if not NAME.fullmatch(name):
        raise RefusedWriteError(f"{name!r} is no name: {NAME_RULE}")
    return name


def _is_number(step: str | int) -> bool:
    return isinstance(step, int)


def _file_text(value: Any) -> str:
    """The text of a new file; never empty, because no bytes stand for no file."""
    text = _object_text(value)
    if text.strip():
        return text
    slots = shape_of(value.__class__).slots.values()
    said = next(((slot.key, said) for slot in slots if (said := plain_default(slot))), ("title", ""))
    return f"{said[0]} = {toml(said[1])}\n"


def _object_text(value: Any, header: str = "", document: str = "") -> str:
    """The text of a new object with everything inside it."""
    shape = shape_of(value.__class__)
    document = value.manual if "manual" in shape.slots else document
    made = "".join(f"{line}\n" for line in ([header] if header else []) + table_lines(value, document))
    for key in shape.lists:
        for entry in getattr(value, key):
            made += "\n" + _object_text(entry, f"[[{key}]]", document)
    for key in shape.tables:
        for name, entry in getattr(value, key).items():
            at = (key, _name(name))
            made += "\n".join(["", f"[{key}.{name}]", *_entry_lines(entry, at, document), ""])
    return made if header else made.lstrip("\n")
