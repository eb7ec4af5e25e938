"""A definition file beside the project that it comes into: what is at odds, and facts that find a place."""

from collections.abc import Iterator, Mapping

from loomwright.files.definition import EVERYTHING, Definition, LeftOut
from loomwright.model.message import Message, MessageSet
from loomwright.model.vehicle import Vehicle
from loomwright.show.quantity import text as quantity
from loomwright.solve.layouts import layout_of
from loomwright.solve.streams import is_extended
from loomwright.terms.change import Edit
from loomwright.terms.fact import Known, Source, Unknown, value_of
from loomwright.terms.quantity import Kind

LAST_ADDRESS = 253
"""The highest address that is a node's: 254 is for one that has none yet, 255 for all (SAE J1939-81; from memory)."""


def told_beside(
    vehicle: Vehicle, name: str, found: MessageSet, definition: Definition, ports: Mapping[str, str], file: str
) -> tuple[list[LeftOut], list[Edit]]:
    """What a file says beside its messages: losses and remarks, and edits of the ports that it states a fact of.

    ``name`` is the set that it becomes, ``found`` its messages, ``ports`` the port of each of its nodes.
    """
    told: dict[str, list[str]] = {}
    remarks: dict[str, list[str]] = {}
    edits: list[Edit] = []
    for kind, place in (
        *_described_already(vehicle, name, found, ports),
        *_bit_rates(vehicle, definition, ports),
    ):
        told.setdefault(kind, []).append(place)
    for kind, place in _overlaps(found):
        remarks.setdefault(kind, []).append(place)
    seen: dict[str, int] = {}
    for node, address, ends in definition.addresses:
        if EVERYTHING in ports:
            told.setdefault("addresses of nodes, while one port stands for all of them", []).append(
                f"{node}: {address}"
            )
            continue
        kind, place, edit = _address(vehicle, node, address, ends, ports.get(node, ""), seen, file)
        if kind:
            (told if edit is None else remarks).setdefault(kind, []).append(place)
        if edit is not None:
            edits.append(edit)
    lost = [LeftOut(kind, tuple(places)) for kind, places in told.items()]
    return [*lost, *(LeftOut(kind, tuple(places), taken=True) for kind, places in remarks.items())], edits


def _described_already(
    vehicle: Vehicle, name: str, found: MessageSet, ports: Mapping[str, str]
) -> Iterator[tuple[str, str]]:
    """Messages that their port sends by another set already: then the file is a receiver's, and only expects them."""
    there: dict[tuple[str, int, bool], str] = {}
    for other, messages in vehicle.messages.items():
        for own, message in messages.messages.items() if other != name else ():
            if key := _sent(message, messages):
                there.setdefault(key, f"{other}.{own}")
    for own, message in found.messages.items():
        key = _sent(message, found)
        if key is None or key not in there:
            continue
        nodes = [node for node, port in ports.items() if port == key[0]]
        others = [port for port in dict.fromkeys(ports.values()) if port != key[0]]
        twin = there[key].partition(".")[0]
        if vehicle.messages[twin].definition == found.definition != "":
            cure = f"this very file is messages/{twin}.toml already, so say --name {twin} --again, or another port"
        elif others and nodes and EVERYTHING not in nodes:
            without = " and ".join(f"--sender {node}={key[0]}" for node in nodes)
            cure = f"leave out {without}, and they are expected by {' or '.join(others)}"
        elif vehicle.messages[twin].definition:
            cure = f"where this is another edition of that file, say --name {twin} --again"
        else:
            cure = "say --sender for the maker's own node alone, and they are expected by its port (expected_by)"
        kind = f"messages that their port sends by another set already, so that they are described twice: {cure}"
        yield kind, f"{own}: {key[1]:#x} is {there[key]}, sent by {key[0]}"


def _sent(message: Message, messages: MessageSet) -> tuple[str, int, bool] | None:
    """The port that sends a message, its identifier and whether that has 29 bits; nothing for one that is expected."""
    port = message.sender or messages.sender
    if message.expected_by or not port or isinstance(message.identifier, Unknown):
        return None
    return port, message.identifier.value, is_extended(message.width, message.identifier.value)


def _bit_rates(vehicle: Vehicle, definition: Definition, ports: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """The bit rate that a file states, where it is not the one of the line that its ports are on."""
    named = set(ports.values())
    lines = {
        name: value_of(line.bit_rate_bit_per_s)
        for name, line in vehicle.lines.items()
        if any(station.port in named for station in line.stations)
    }
    stated = {rate for _, rate in definition.bit_rates}
    for bus, rate in definition.bit_rates:
        said = f"{bus or 'file'}: {quantity(rate, Kind.BIT_RATE)}"
        if not lines:
            yield "bit rate of the bus: its port is on no line yet", said
        for line, own in lines.items():
            if own is None:
                yield "bit rate of the bus: that of the line is open yet", f"{said}, line {line}"
            elif own not in stated:
                kind = "bit rate of the bus differs from the line's: one of them is wrong, and nodes of two bit rates hear nothing"
                yield kind, f"{said}, line {line}: {quantity(own, Kind.BIT_RATE)}"


def _overlaps(found: MessageSet) -> Iterator[tuple[str, str]]:
    for own, message in found.messages.items():
        for one, two in layout_of(message).shared:
            yield "signals on each other's bits, there at the same time", f"{own}: {one} and {two}"


def _address(
    vehicle: Vehicle, node: str, address: int, ends: bool, port: str, seen: dict[str, int], file: str
) -> tuple[str, str, Edit | None]:
    """What to tell of one node's address, and the edit that gives it to its port where that has none."""
    component, _, own = port.partition(".")
    if not port:
        return "addresses of nodes that no port was given for", f"{node}: {address}", None
    fact = vehicle.components[component].ports[own].address
    present = seen.get(port, None if fact is None else value_of(fact))
    if present == address:
        return "", "", None
    if present is not None:
        return "addresses that differ from the port's", f"{node}: {address}, {port}: {present}", None
    if not ends or not 0 <= address <= LAST_ADDRESS:
        kind = "addresses of nodes that none of their messages ends in: look up whether that is the port's address"
        return kind, f"{node}: {address}, {port}", None
    seen[port] = address
    edit = Edit(("components", component, "ports", own, "address"), Known(address, source=Source(file)))
    return "addresses of nodes, written to their ports", f"{node}: {address} to {port}", edit
