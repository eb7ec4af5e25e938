"""Chains from a cause to its effect: begin one, change its steps, take it out."""

from functools import partial

from loomwright.app.edits.names import EditError, Slips, free_name, known
from loomwright.files.form import FieldWords, UnreadableFieldError, field_value
from loomwright.model.speech import message_at, sender_of
from loomwright.model.vehicle import Chain, Vehicle
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Fact, Unknown
from loomwright.terms.field import fields_of

_OPEN: Fact[float] = Unknown()


def add_chain(vehicle: Vehicle, title: str, steps: list[str], effect: str, within: str = "") -> tuple[str, Change]:
    """A chain through these messages to a component; its name and the change.

    ``within`` is a time in words; none, or "?": still to be found out. Raises ``EditError`` with everything that is wrong.
    """
    slips = Slips()
    if not title.strip():
        slips.note("a chain needs a name: what happens?", "title")
    steps = [step for step in steps if step]
    for number, step in enumerate(steps):
        slips.look(partial(_step, vehicle, steps[:number], number, step), None)
    if not steps:
        slips.note("a chain begins with a message: the first that tells of the cause", "steps")
    slips.look(lambda: _acting(vehicle, effect), None)
    fact = slips.look(lambda: _within(within), _OPEN)
    slips.end()
    name = free_name(vehicle.chains, title)
    made = Chain(tuple(steps), effect, title.strip(), fact)
    return name, Change(f"add chain {name}", (Edit(("chains", name), made),))


def set_step(vehicle: Vehicle, name: str, index: int, step: str) -> Change:
    """Another message at a step, or one more after the last."""
    steps = list(_chain(vehicle, name).steps)
    if not 0 <= index <= len(steps):
        raise EditError(f"chain {name} has {len(steps)} steps, so there is no step {index + 1} to set")
    _step(vehicle, steps[:index] + steps[index + 1 :], index, step)
    return _with(name, f"step {index + 1}", (*steps[:index], step, *steps[index + 1 :]))


def move_step(vehicle: Vehicle, name: str, index: int) -> Change:
    """Change a step with the one before it."""
    steps = list(_chain(vehicle, name).steps)
    if not 0 < index < len(steps):
        raise EditError(f"step {index + 1} of chain {name} cannot stand earlier")
    steps[index - 1 : index + 1] = steps[index], steps[index - 1]
    return _with(name, f"step {index + 1} earlier", tuple(steps))


def remove_step(vehicle: Vehicle, name: str, index: int) -> Change:
    """Take a step out. The last one that is left stays: without it there is no chain."""
    steps = _chain(vehicle, name).steps
    if not 0 <= index < len(steps):
        raise EditError(f"chain {name} has {len(steps)} steps, so there is no step {index + 1} to take out")
    if len(steps) == 1:
        raise EditError(f"step 1 is all that chain {name} has; remove the whole chain instead")
    return _with(name, f"step {index + 1} out", (*steps[:index], *steps[index + 1 :]))


def remove_chain(vehicle: Vehicle, name: str) -> Change:
    """Take a chain out; the messages that it names stay."""
    _chain(vehicle, name)
    return Change(f"remove chain {name}", (Edit(("chains", name), None),))


def _acting(vehicle: Vehicle, effect: str) -> None:
    if not effect:
        raise EditError("a chain ends with the component that acts on the last message", "effect")
    known(vehicle.components, effect, "component", "effect")


def _chain(vehicle: Vehicle, name: str) -> Chain:
    return known(vehicle.chains, name, "chain")


def _with(name: str, what: str, steps: tuple[str, ...]) -> Change:
    return Change(f"chain {name}: {what}", (Edit(("chains", name, "steps"), steps),))


def _step(vehicle: Vehicle, others: list[str], index: int, step: str) -> None:
    """Refuse a step that cannot be one: it has to be a message that somebody sends, once in a chain."""
    where, message = f"step {index + 1}", message_at(vehicle.messages, step)
    if message is None or step.count(".") != 1:
        raise EditError(f"{where}: there is no message {step!r}", where)
    if message.expected_by:
        raise EditError(f"{where}: {step} is what {message.expected_by} expects; choose the one that is sent", where)
    if not sender_of(vehicle.messages, step):
        raise EditError(f"{where}: nobody is said to send {step}; choose its sender on its own page first", where)
    if step in others:
        raise EditError(f"{where}: {step} is a step of this chain already", where)


def _within(words: str) -> Fact[float]:
    item = next(item for item in fields_of(Chain) if item.name == "within_s")
    try:
        found: Fact[float] = field_value(item, FieldWords(words.strip() or "?"))
    except UnreadableFieldError as error:
        raise EditError(str(error), "within") from error
    return found
