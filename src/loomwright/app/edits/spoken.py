"""What is said follows its component, or its message: needs, forwards and chains when one is renamed or taken out."""

from collections.abc import Callable, Iterator

from loomwright.app.edits.names import free, known, subject_edits
from loomwright.model.component import Component
from loomwright.model.message import MessageSet
from loomwright.model.speech import message_and_signal
from loomwright.model.vehicle import Vehicle
from loomwright.terms.change import Change, Edit, Path, path_text


def renamed_edits(vehicle: Vehicle, old: str, new: str, renamed: Callable[[str], str]) -> Iterator[Edit]:
    """Let senders, receivers and chains follow a component's new name."""
    for set_name, messages in vehicle.messages.items():
        if renamed(messages.sender) != messages.sender:
            yield Edit(("messages", set_name, "sender"), renamed(messages.sender))
        nodes = tuple(_node_renamed(node, renamed) for node in messages.nodes)
        if nodes != messages.nodes:
            yield Edit(("messages", set_name, "nodes"), nodes)
        for name, message in messages.messages.items():
            for field in ("sender", "expected_by"):
                port = getattr(message, field)
                if renamed(port) != port:
                    yield Edit(("messages", set_name, "messages", name, field), renamed(port))
    for name, chain in vehicle.chains.items():
        if chain.effect == old:
            yield Edit(("chains", name, "effect"), new)


def _node_renamed(words: str, renamed: Callable[[str], str]) -> str:
    """Words such as ``INV=inverter.can`` with the port's new name."""
    node, equals, port = words.rpartition("=")
    return f"{node}{equals}{renamed(port)}"


def rename_message(vehicle: Vehicle, set_name: str, old: str, new: str) -> Change:
    """Give a message another name in its file; needs, forwards, chains and accepted deviations follow."""
    messages = known(vehicle.messages, set_name, "set of messages").messages
    message = known(messages, old, "message")
    free(messages, new, "message")
    was, now = f"{set_name}.{old}", f"{set_name}.{new}"
    path: Path = ("messages", set_name, "messages")
    edits = [Edit((*path, new), message)]
    for name, component in vehicle.components.items():
        for key, need in component.needs.items():
            if message_and_signal(need.signal)[0] == was:
                edits.append(Edit(("components", name, "needs", key, "signal"), now + need.signal[len(was) :]))
        for key, forward in component.forwards.items():
            if forward.message == was:
                edits.append(Edit(("components", name, "forwards", key, "message"), now))
    for name, chain in vehicle.chains.items():
        if was in chain.steps:
            steps = tuple(now if step == was else step for step in chain.steps)
            edits.append(Edit(("chains", name, "steps"), steps))
    whole = (path_text((*path, old)), path_text((*path, new)))
    edits += subject_edits(vehicle, whole, (f"[{was}]", f"[{now}]"))
    return Change(f"rename {was} to {new}", (*edits, Edit((*path, old), None)))


def removed_edits(vehicle: Vehicle, component: str) -> Iterator[Edit]:
    """Take out what a component says and expects, and whatever refers to that."""
    gone: set[str] = set()
    for set_name, messages in vehicle.messages.items():
        own = _own(messages, component)
        gone |= {f"{set_name}.{name}" for name in own}
        yield from _without(set_name, messages, own, component)
    for name, chain in vehicle.chains.items():
        if chain.effect == component or gone & set(chain.steps):
            yield Edit(("chains", name), None)
    for other, kept in vehicle.components.items():
        if other != component:
            yield from _deafened(other, kept, gone)


def _own(messages: MessageSet, component: str) -> set[str]:
    """The messages that a component sends, or describes as what it expects."""
    return {
        name
        for name, one in messages.messages.items()
        if _belongs(one.expected_by or one.sender or messages.sender, component)
    }


def _without(set_name: str, messages: MessageSet, own: set[str], component: str) -> Iterator[Edit]:
    if len(own) == len(messages.messages) and (own or _belongs(messages.sender, component)):
        yield Edit(("messages", set_name), None)
        return
    for name, one in messages.messages.items():
        if name in own:
            yield Edit(("messages", set_name, "messages", name), None)
        elif _belongs(one.sender, component):  # a receiver's description that names who is to send it
            yield Edit(("messages", set_name, "messages", name, "sender"), "")
    if _belongs(messages.sender, component):
        yield Edit(("messages", set_name, "sender"), "")


def _deafened(name: str, component: Component, gone: set[str]) -> Iterator[Edit]:
    """Needs and forwards of another component that name a message which goes."""
    for need, one in component.needs.items():
        if message_and_signal(one.signal)[0] in gone:
            yield Edit(("components", name, "needs", need), None)
    for forward, passed in component.forwards.items():
        if passed.message in gone:
            yield Edit(("components", name, "forwards", forward), None)


def _belongs(port: str, component: str) -> bool:
    return port.partition(".")[0] == component
