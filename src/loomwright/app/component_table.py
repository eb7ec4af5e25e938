"""Components as a table: out to a spreadsheet, and back by a preview that is applied as one step.

One row is one port; the columns are the keys of the component files. A fact has up to four: its value (``?`` where it is
unknown), and ``_source``, ``_assumed`` or ``_ask`` beside it. An empty cell leaves what is there.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Any

from loomwright.app.edits.names import NAME, free_name
from loomwright.files.form import FieldWords, UnreadableFieldError, field_value, field_words
from loomwright.files.read import is_fact
from loomwright.model.component import Component, Port
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit, Path
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.field import FieldOf, fields_of

NAME_COLUMN, PORT_COLUMN = "component", "port"
BESIDE = ("source", "assumed", "ask")
OWN = {item.key: item for item in fields_of(Component)}
PORT = {item.key: item for item in fields_of(Port)}


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of the preview. ``state`` is new, changed, same, empty or wrong; ``was`` what stands there now."""

    words: str
    state: str
    was: str = ""
    problem: str = ""


@dataclass(frozen=True, slots=True)
class PreviewRow:
    """A row of the preview; ``kind`` is "new", "new port", "changed" or "same"."""

    number: int
    kind: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """A pasted table, read against the vehicle. ``change`` is there when every cell could be read and something changes."""

    headings: tuple[Cell, ...]
    rows: tuple[PreviewRow, ...]
    problems: int
    added: int
    changed: int
    change: Change | None


class UnreadyTableError(LoomwrightError):
    """The table still has cells that cannot be read, or changes nothing."""


def columns() -> tuple[str, ...]:
    """Every column, in the order in which a table is written."""
    own, port = ([name for item in fields.values() for name in _group(item)] for fields in (OWN, PORT))
    return (NAME_COLUMN, *own, PORT_COLUMN, *port)


def table_rows(vehicle: Vehicle) -> tuple[tuple[str, ...], ...]:
    """The head row and one row for each port; one without port columns for a component that has none."""
    rows = [columns()]
    for name, component in vehicle.components.items():
        for port in component.ports or ("",):
            now = _now(vehicle, name, port)
            rows.append(tuple(now[column] for column in rows[0]))
    return tuple(rows)


def preview(vehicle: Vehicle, rows: Sequence[Sequence[str]]) -> Preview:
    """Read a table, head row first, against the vehicle; never raises for what is in it."""
    if not rows:
        return Preview((), (), 0, 0, 0, None)
    heads = [_heading(words) for words in rows[0]]
    twice = {head for head in heads if head and heads.count(head) > 1}
    headings = tuple(_head_cell(words, head, twice) for words, head in zip(rows[0], heads, strict=True))
    reader = _Reader(vehicle, heads)
    made = tuple(reader.row(number, row) for number, row in enumerate(rows[1:], 2))
    lacking = NAME_COLUMN not in heads
    problems = sum(cell.state == "wrong" for cell in headings) + lacking
    problems += sum(cell.state == "wrong" for row in made for cell in row.cells)
    if lacking:
        headings = (*headings, Cell("", "wrong", problem=f"a column {NAME_COLUMN} has to name what each row is about"))
    edits = reader.edits()
    added = len(reader.fresh)
    changed = len({str(edit.path[1]) for edit in edits} - set(reader.fresh))
    title = f"table: {', '.join(filter(None, (_many(added, 'added'), _many(changed, 'changed'))))}"
    return Preview(
        headings, made, problems, added, changed, Change(title, tuple(edits)) if edits and not problems else None
    )


class _Reader:
    """Reads rows one after another, keeping what they make of each component."""

    def __init__(self, vehicle: Vehicle, heads: list[str]) -> None:
        self.vehicle, self.heads = vehicle, heads
        self.fresh: dict[str, Component] = {}
        self.sets: dict[Path, Any] = {}
        self.ports: dict[Path, Port] = {}
        self.seen: set[tuple[str, str]] = set()

    def row(self, number: int, words: Sequence[str]) -> PreviewRow:
        """One row, cell by cell. Cells past the head row's last are wrong."""
        given = {head: cell for head, cell in zip(self.heads, words, strict=False) if head and cell.strip()}
        name, port = given.get(NAME_COLUMN, "").strip(), given.get(PORT_COLUMN, "").strip()
        known = self.vehicle.components.get(name)
        if not port and name and any(head in PORT or head.rpartition("_")[0] in PORT for head in given):
            port = next(iter(known.ports)) if known is not None and len(known.ports) == 1 else "can"
        wrong: dict[str, str] = self._names(name, port, known)
        now = _now(self.vehicle, name, port) if known is not None else {}
        begun = name in self.fresh
        # A row with a wrong name is read to its end too: every cell that is wrong is told at once.
        self._owner(name, given, known, wrong)
        if port:
            self._port(name, port, given, known, wrong)
        new_port = known is not None and port and port not in known.ports
        kind = "new" if known is None and not begun else "new port" if known is None or new_port else "changed"
        cells = [self._cell(head, cell, now, wrong) for head, cell in zip(self.heads, words, strict=False)]
        cells += [Cell("", "empty")] * (len(self.heads) - len(cells))
        cells += [Cell(cell, "wrong", problem="there is no column for this cell") for cell in words[len(self.heads) :]]
        if kind == "changed" and not any(cell.state in ("new", "changed", "wrong") for cell in cells):
            kind = "same"
        for head, problem in wrong.items():
            if head not in self.heads:
                cells.append(Cell("", "wrong", problem=f"{head}: {problem}"))
            elif head not in given:
                cells[self.heads.index(head)] = Cell("", "wrong", problem=problem)
        return PreviewRow(number, kind, tuple(cells))

    def edits(self) -> list[Edit]:
        """Everything that the rows change: whole new components and ports, single fields of the others."""
        own = [Edit(path, value) for path, value in self.sets.items()]
        ports = [Edit(path, port) for path, port in self.ports.items()]
        return [Edit(("components", name), component) for name, component in self.fresh.items()] + ports + own

    def _names(self, name: str, port: str, known: Component | None) -> dict[str, str]:
        wrong = {}
        if not NAME.fullmatch(name):
            like = f", for example {free_name(self.vehicle.components, name)}" if name.strip() else ""
            wrong[NAME_COLUMN] = f"a name is needed: small letters, digits and _, beginning with a letter{like}"
        elif (name, port) in self.seen:
            wrong[NAME_COLUMN] = f"an earlier row is about {name}{f'.{port}' if port else ''} already"
        if port and not NAME.fullmatch(port):
            wrong[PORT_COLUMN] = "a name of a port has small letters, digits and _, beginning with a letter"
        if known is not None and len(known.ports) > 1 and not port:
            pass  # a row about the component alone
        self.seen.add((name, port))
        return wrong

    def _owner(self, name: str, given: Mapping[str, str], known: Component | None, wrong: dict[str, str]) -> None:
        manual = given.get("manual", "").strip() or (known.manual if known is not None else "")
        values = self._values(OWN, given, manual, wrong, known)
        place = values.get("place")
        if place is not None and place not in self.vehicle.places:
            near = get_close_matches(place, self.vehicle.places, 1) or list(self.vehicle.places)[:3]
            wrong["place"] = f"there is no place {place!r}; expected: {' or '.join(near)}"
        if NAME_COLUMN in wrong:
            return
        if known is not None:
            for key, value in values.items():
                if value != getattr(known, OWN[key].name):
                    self.sets["components", name, OWN[key].name] = value
            return
        if name in self.fresh:
            self.fresh[name] = replace(self.fresh[name], **{OWN[key].name: value for key, value in values.items()})
            return
        for key in ("role", "place"):
            if key not in values and key not in wrong:
                wrong[key] = f"a new component says its {key}, for example {OWN[key].field.example.strip(chr(34))}"
        if not wrong:
            self.fresh[name] = Component(**{OWN[key].name: value for key, value in values.items()})

    def _port(
        self, name: str, port: str, given: Mapping[str, str], known: Component | None, wrong: dict[str, str]
    ) -> None:
        manual = given.get("manual", "").strip() or (known.manual if known is not None else "")
        if name in self.fresh:
            manual = self.fresh[name].manual
        there = known.ports.get(port) if known is not None else None
        values = self._values(PORT, given, manual, wrong, there)
        if wrong:
            return
        if there is not None:
            for key, value in values.items():
                if value != getattr(there, PORT[key].name):
                    self.sets["components", name, "ports", port, PORT[key].name] = value
            return
        made = Port(**{PORT[key].name: value for key, value in values.items()})
        if known is not None:
            self.ports["components", name, "ports", port] = made
        elif name in self.fresh:
            own = self.fresh[name]
            self.fresh[name] = replace(own, ports=own.ports.put(port, made))

    def _values(
        self,
        fields: Mapping[str, FieldOf],
        given: Mapping[str, str],
        manual: str,
        wrong: dict[str, str],
        now: Any = None,
    ) -> dict[str, Any]:
        """The fields that the cells say, but those that say just what stands there now."""
        values: dict[str, Any] = {}
        there = _cells(fields, now, manual) if now is not None else {}
        for key, item in fields.items():
            mine = [name for name in _group(item) if name in given]
            if all(name in there and given[name].strip() == there[name].strip() for name in mine):
                continue
            form = _form(item, given, field_words(item, getattr(now, item.name), manual) if now is not None else None)
            homeless = [name for name in mine if name not in (key, f"{key}_ask")]
            if form.status == "unknown" and homeless:
                wrong[homeless[0]] = f"there is no value that this could belong to; expected: one in the column {key}"
                continue
            try:
                values[key] = field_value(item, form, manual)
            except UnreadableFieldError as error:
                wrong[mine[0]] = str(error)
        return values

    def _cell(self, head: str, words: str, now: Mapping[str, str], wrong: Mapping[str, str]) -> Cell:
        if not words.strip():
            return Cell("", "empty", now.get(head, ""))
        if head in wrong:
            return Cell(words, "wrong", now.get(head, ""), wrong[head])
        if not head:
            return Cell(words, "empty")
        if head not in now:
            return Cell(words, "new")
        return Cell(words, "same" if words.strip() == now[head].strip() else "changed", now[head])


def _form(item: FieldOf, given: Mapping[str, str], now: FieldWords | None) -> FieldWords:
    """A fact from its cells; what has no cell stays as it is now."""
    words, source, why, ask = (given.get(name, "").strip() for name in (item.key, *(f"{item.key}_{b}" for b in BESIDE)))
    if not is_fact(item):
        return FieldWords(words)
    if not words and now is not None:
        words = now.words or ("?" if now.status == "unknown" else "")
    if words == "?":
        return FieldWords("", "unknown", ask=ask or (now.ask if now is not None else ""))
    if why:
        return FieldWords(words, "assumed", why=why)
    if source or now is None or now.status != "known":
        return FieldWords(words, "known", source)
    return FieldWords(words, "known", now.source)


def _now(vehicle: Vehicle, name: str, port: str) -> dict[str, str]:
    """What the cells of a row about a port would say now."""
    component = vehicle.components[name]
    row = dict.fromkeys(columns(), "")
    row |= {NAME_COLUMN: name, PORT_COLUMN: port}
    row |= _cells(OWN, component, component.manual)
    return row | _cells(PORT, component.ports[port], component.manual) if port in component.ports else row


def _cells(fields: Mapping[str, FieldOf], owner: Any, manual: str) -> dict[str, str]:
    cells = {}
    for key, item in fields.items():
        words = field_words(item, getattr(owner, item.name), manual)
        cells[key] = "?" if words.status == "unknown" else words.words
        if is_fact(item):
            cells |= dict(zip(_group(item)[1:], (words.source, words.why, words.ask), strict=True))
    return cells


def _group(item: FieldOf) -> tuple[str, ...]:
    return (item.key, *(f"{item.key}_{name}" for name in BESIDE)) if is_fact(item) else (item.key,)


def _heading(words: str) -> str:
    """The column that a heading means; empty where it is none."""
    name = "_".join(words.lower().replace("_", " ").split())
    name = {"name": NAME_COLUMN}.get(name, name)
    return name if name in columns() else ""


def _head_cell(words: str, head: str, twice: set[str]) -> Cell:
    if head in twice:
        return Cell(words, "wrong", problem="this column is there twice")
    if head or not words.strip():
        return Cell(words, "same")
    near = get_close_matches("_".join(words.lower().split()), columns(), 1)
    return Cell(words, "wrong", problem=f"no such column; expected: {near[0] if near else 'one of the list below'}")


def _many(count: int, what: str) -> str:
    return f"{count} component{'s' if count != 1 else ''} {what}" if count else ""
