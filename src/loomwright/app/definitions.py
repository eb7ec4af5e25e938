"""Command: take definition files of the trade into a project, or give messages out as one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from loomwright.app.definition_compared import told_beside
from loomwright.app.definition_merge import merged, renamed
from loomwright.app.plain import headed
from loomwright.app.project import Project, UnreadableError
from loomwright.files.change import Pairs, difference, planned, with_new_files
from loomwright.files.definition import EVERYTHING, FORMATS, NOBODY, Definition, LeftOut, read_definition
from loomwright.files.definition_copy import copy_name, kept_copy
from loomwright.files.definition_last import ports_taken
from loomwright.files.definition_ledger import by_weight
from loomwright.files.definition_names import our_name
from loomwright.files.disk import LARGEST, NAME, NAME_RULE
from loomwright.files.write import write_texts
from loomwright.model.message import MessageSet
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit
from loomwright.terms.errors import LoomwrightError
from loomwright.terms.fact import Unknown

__all__ = ["FORMATS", "LeftOut", "NotTakenError", "Taken", "TakenFile", "keep", "of_taken", "ports_by_node", "take"]


class NotTakenError(LoomwrightError):
    """A definition file that cannot be taken over as asked; the message says why and what could be asked."""


@dataclass(frozen=True, slots=True)
class TakenFile:
    """One file: the set it becomes, its copy in the project, and what did not come through.

    ``stays`` and ``gives_way`` are the paths below the set of hand-made values that stay, and of those that the maker's
    new value replaces; ``compared`` tells whether there was an old copy to tell the two apart by. ``torn`` is the line in
    which the file ends in the middle; 0: it is whole. ``edits`` give facts of the file to ports that lack them.
    """

    file: str
    name: str
    copy: str
    set: MessageSet
    left_out: tuple[LeftOut, ...]
    nodes: tuple[tuple[str, int], ...]
    stays: tuple[str, ...] = ()
    gives_way: tuple[str, ...] = ()
    compared: bool = False
    replaced: bool = False
    torn: int = 0
    edits: tuple[Edit, ...] = ()

    @property
    def warning(self) -> str:
        """What is wrong with the file as a whole; empty where nothing is."""
        return f"{self.file}: the file ends in the middle (line {self.torn}): fetch it again" if self.torn else ""

    @property
    def summary(self) -> str:
        """How much of the file became what."""
        messages = self.set.messages.values()
        expected = sum(1 for each in messages if each.expected_by)
        unsaid = sum(1 for each in messages if isinstance(each.period_s, Unknown))
        asked = f"; how often {unsaid} of them {'is' if unsaid == 1 else 'are'} sent is not said" if unsaid else ""
        return (
            f"{self.file} as messages/{self.name}.toml: {len(messages) - expected} messages sent, {expected} expected, "
            f"{sum(len(each.signals) for each in messages)} signals{asked}"
        )


@dataclass(frozen=True, slots=True)
class Taken:
    """What taking files over would write: old and new bytes by file, and each file's report."""

    files: tuple[TakenFile, ...]
    texts: Mapping[str, tuple[bytes, bytes]]

    def difference(self, name: str) -> str:
        """The unified difference in one file of the project; of a copy only that it is new, changed or gone."""
        old, new = self.texts[name]
        if name.endswith(".toml"):
            return difference(name, old, new)
        return f"{name}: {len(old)} bytes before, {len(new)} bytes now"


def ports_by_node(words: Sequence[str]) -> dict[str, str]:
    """Ports by node from words such as ``INV=inverter.can``; a port alone sends everything. Raises ``NotTakenError``."""
    ports: dict[str, str] = {}
    for word in words:
        node, _, port = word.rpartition("=")
        if node in ports:
            raise NotTakenError(f"{node or 'everything'} is given two ports: {ports[node]} and {port}")
        ports[node.strip()] = port.strip()
    if EVERYTHING in ports and len(ports) > 1:
        raise NotTakenError("give either one port for all messages, or a port for each node: NODE=component.port")
    return ports


def take(
    project: Project,
    files: Sequence[tuple[str, bytes]],
    ports: Mapping[str, str],
    *,
    name: str = "",
    again: bool = False,
) -> Taken:
    """What taking over definition files would write; nothing is written yet.

    ``files`` are names with bytes, ``ports`` as ``ports_by_node`` makes them; without any, a set that is taken ``again``
    keeps those of the last time. A project whose only problem is that it names these very messages is taken as it will be.
    Raises ``UnreadableError`` for files that cannot be read, ``NotTakenError`` for what was asked wrongly,
    ``RefusedWriteError`` where the project cannot hold it.
    """
    vehicle = project.loaded.vehicle
    if vehicle is None or (again and project.loaded.problems):
        raise UnreadableError(project.loaded.problems)
    _check_asked(vehicle, files, ports, name)
    said = {file: ports or (_last_ports(project, vehicle, _set_name(file, name)) if again else {}) for file, _ in files}
    read = [(file, raw, read_definition(raw, _own(file), said[file])) for file, raw in files]
    problems = tuple(each.problem for _, _, each in read if each.problem is not None)
    if problems:
        raise UnreadableError(problems)
    _check_nodes([each for _, _, each in read], [Path(file).name for file, _ in files], list(said.values()))
    taken: list[TakenFile] = []
    copies: dict[str, tuple[bytes, bytes]] = {}
    for file, raw, definition in read:
        one, gone = _one(project, vehicle, Path(file).name, raw, definition, said[file], name, again=again)
        if any(each.name == one.name or each.copy == one.copy for each in taken):
            raise NotTakenError(f"two of the files would become messages/{one.name}.toml or {one.copy}")
        taken.append(one)
        copies |= {copy: (kept_copy(project.folder, copy) or b"", b"") for copy in gone}
        copies[one.copy] = (kept_copy(project.folder, one.copy) or b"", raw)
    pairs = _texts(project, taken)
    for text, (_, new) in pairs.items():
        if len(new) > LARGEST:
            raise NotTakenError(
                f"{text} would be {len(new) / 1e6:.1f} MB large; a project's file has at most {LARGEST / 1e6:.0f} MB. Map "
                "only the nodes that the vehicle has"
            )
    changed = {copy: pair for copy, pair in copies.items() if pair[0] != pair[1]}
    return Taken(tuple(taken), {**pairs, **changed})


def _texts(project: Project, taken: Sequence[TakenFile]) -> Pairs:
    """Old and new bytes of the project's files. Where it waits for these sets, they are put in before it is judged."""
    loaded, edits = project.loaded, [edit for each in taken for edit in each.edits]
    if loaded.problems:
        loaded = with_new_files(loaded, "messages", {each.name: each.set for each in taken})
        if loaded.problems:
            raise UnreadableError(loaded.problems)
    edits += [Edit(("messages", each.name), each.set) for each in taken]
    pairs, _ = planned(loaded, Change("take over definition files", tuple(edits)))
    before = project.loaded.texts
    new = {file: text for file, text in loaded.texts.items() if file not in before}
    return {file: (b"", text) for file, text in new.items()} | {
        file: (before.get(file, b""), text) for file, (_, text) in pairs.items()
    }


def keep(project: Project, taken: Taken, *, incomplete: bool = False) -> None:
    """Write what ``take`` found, all files or none, and read the project again.

    Raises ``NotTakenError`` for a file that ends in the middle, unless what there is of it is wanted all the same.
    """
    torn = [each.warning for each in taken.files if each.torn]
    if torn and not incomplete:
        raise NotTakenError(f"{'; '.join(torn)}. Nothing is written; --incomplete takes what there is")
    write_texts(project.folder, taken.texts)
    project.reload()


def of_taken(taken: Taken, *, written: bool) -> dict[str, Any]:
    """The report as plain data."""
    files = [
        {
            "file": one.file,
            "set": one.name,
            "copy": one.copy,
            "messages": len(one.set.messages),
            "expected": sum(1 for each in one.set.messages.values() if each.expected_by),
            "signals": sum(len(each.signals) for each in one.set.messages.values()),
            "ends_in_line": one.torn or None,
            "nodes": [{"node": node, "messages": count} for node, count in one.nodes],
            "told": of_told(one.left_out),
            "stays": list(one.stays),
            "gives_way": list(one.gives_way),
            "replaced": one.replaced,
            "compared": one.compared,
        }
        for one in taken.files
    ]
    return headed("take", {"written": written, "files": files, "texts": list(taken.texts)})


def of_told(told: Sequence[LeftOut]) -> list[dict[str, Any]]:
    """Losses and remarks as plain data."""
    return [
        {"what": each.kind, "count": each.count, "came_through": each.taken, "places": list(each.places)}
        for each in told
    ]


def _one(
    project: Project,
    vehicle: Vehicle,
    file: str,
    raw: bytes,
    definition: Definition,
    ports: Mapping[str, str],
    name: str,
    *,
    again: bool,
) -> tuple[TakenFile, tuple[str, ...]]:
    """One file's report, and copies that are needed no longer."""
    own, copy = _set_name(file, name), copy_name(file)
    nodes = tuple(f"{node}={port}" if node != EVERYTHING else port for node, port in ports.items())
    new = replace(definition.set, definition=copy, nodes=nodes)
    beside, edits = told_beside(vehicle, own, new, definition, ports, _own(file))
    told = by_weight((*definition.left_out, *beside))
    one = TakenFile(file, own, copy, new, told, definition.nodes, torn=definition.torn, edits=tuple(edits))
    present = vehicle.messages.get(own)
    if not again:
        if present is not None:
            raise NotTakenError(
                f"there is messages/{own}.toml already; add --again to take it over anew, or give a --name"
            )
        if kept_copy(project.folder, copy) not in (None, raw):
            raise NotTakenError(f"there is another {copy} already; add --again to replace it")
        return one, ()
    if present is None:
        return one, ()
    one = replace(one, replaced=True)
    others = [each.definition for other, each in vehicle.messages.items() if other != own]
    gone = (present.definition,) if present.definition not in (copy, "", *others) else ()
    old = _old(project, present, _own(file), _last_ports(project, vehicle, own))
    if old is None:
        return one, gone
    kept, stays, gives_way = merged(old, renamed(present, _own(present.definition), _own(file)), new)
    return replace(one, set=replace(kept, definition=copy), stays=stays, gives_way=gives_way, compared=True), gone


def _set_name(file: str, name: str) -> str:
    plain = Path(file).name
    return name or our_name(plain.rpartition(".")[0] or plain, "m")


def _last_ports(project: Project, vehicle: Vehicle, name: str) -> dict[str, str]:
    """The ports that were said when a set was taken over last: as it tells itself, else as its messages show."""
    present = vehicle.messages.get(name)
    if present is None:
        return {}
    known = {f"{component}.{port}" for component, each in vehicle.components.items() for port in each.ports}
    told = {node: port for words in present.nodes for node, _, port in [words.rpartition("=")]}
    if told and known.issuperset(told.values()):
        return told
    raw = kept_copy(project.folder, present.definition)
    shown = {} if raw is None else ports_taken(raw, _own(present.definition), present)
    return shown | {node: port for node, port in told.items() if port in known}


def _own(file: str) -> str:
    """The name of a file's copy, which the sources of its values carry."""
    return Path(copy_name(Path(file).name)).name


def _old(project: Project, present: MessageSet, file: str, ports: Mapping[str, str]) -> MessageSet | None:
    """What the old copy says, as if it had the new file's name where the two are of one format."""
    raw = kept_copy(project.folder, present.definition)
    if raw is None:
        return None
    own = _own(present.definition)
    same_kind = file.rpartition(".")[2].lower() == own.rpartition(".")[2].lower()
    old = read_definition(raw, file if same_kind else own, ports)
    return None if old.problem else replace(old.set, definition=copy_name(file))


def _check_asked(vehicle: Vehicle, files: Sequence[tuple[str, bytes]], ports: Mapping[str, str], name: str) -> None:
    known = [f"{component}.{port}" for component, each in vehicle.components.items() for port in each.ports]
    for port in ports.values():
        if port not in known:
            raise NotTakenError(f"there is no port {port!r}; there are {', '.join(known) or 'none yet'}")
    if name and len(files) > 1:
        raise NotTakenError("--name is for one file; several get their names from their files")
    if name and not NAME.fullmatch(name):
        raise NotTakenError(f"{name!r} is no name: {NAME_RULE}")


def _check_nodes(read: Sequence[Definition], files: Sequence[str], said: Sequence[Mapping[str, str]]) -> None:
    """Refuse without any port, and for nodes that no file has."""
    nodes: dict[str, int] = {}
    for each in read:
        for node, count in each.nodes:
            nodes[node] = nodes.get(node, 0) + count
    told = ", ".join(f"{node} ({count} messages)" for node, count in nodes.items()) or "no nodes"
    if not all(said):
        raise NotTakenError(
            f"which port sends the messages? In {', '.join(files)}: {told}. Say --sender NODE=component.port for each node "
            f"that the vehicle has ({NOBODY} stands for messages without a sender), or --sender component.port for all"
        )
    for node in (node for ports in said for node in ports):
        if node not in (EVERYTHING, NOBODY) and node not in nodes:
            raise NotTakenError(f"no file has a node {node!r}; there are {told}")
