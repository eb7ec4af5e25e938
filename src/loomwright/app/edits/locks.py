"""Locks: decisions that the planner has to keep."""

from loomwright.app.edits.names import EditError, free_name, known
from loomwright.app.edits.stations import known_port
from loomwright.model.vehicle import LOCK_KINDS, Lock, Vehicle
from loomwright.terms.change import Change, Edit

WITH_LINE = ("be on line",)
WITH_OTHER = ("share a line with", "not share a line with")


def add_lock(vehicle: Vehicle, port: str, must: str, line: str = "", other: str = "", why: str = "") -> Change:
    """Hold a port to something. The reason is asked for: whoever reads the plan later needs it."""
    known_port(vehicle, port)
    if must not in LOCK_KINDS:
        raise EditError(f"{must!r} is nothing that a lock can ask for: {', '.join(LOCK_KINDS)}", "must")
    if not why.strip():
        raise EditError("a lock says why: the planner keeps it at any price", "why")
    if must in WITH_LINE:
        known(vehicle.lines, line, "line", "line")
    if must in WITH_OTHER:
        known_port(vehicle, other, "other")
        if other == port:
            raise EditError("a port has no line in common with itself; name another port", "other")
    lock = Lock(port, must, line if must in WITH_LINE else "", other if must in WITH_OTHER else "", why.strip())
    if any((kept.port, kept.must, kept.line, kept.other) == (port, must, lock.line, lock.other) for kept in
           vehicle.locks.values()):  # fmt: skip
        raise EditError("this lock is there already", "must")
    name = free_name(vehicle.locks, f"{port.partition('.')[0]} {must.removesuffix(' with')}")
    return Change(f"lock {port}: {lock_words(lock)}", (Edit(("locks", name), lock),))


def remove_lock(vehicle: Vehicle, name: str) -> Change:
    """Let the planner decide again."""
    lock = known(vehicle.locks, name, "lock")
    return Change(f"unlock {lock.port}: {lock_words(lock)}", (Edit(("locks", name), None),))


def lock_words(lock: Lock) -> str:
    """What a lock asks for: ``be on line drive``."""
    return " ".join(part for part in (lock.must, lock.line, lock.other) if part)
