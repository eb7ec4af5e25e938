"""How the bits of a line came out, in a sentence for the margin: they are judged in the middle of their page."""

from loomwright.app.session import Session
from loomwright.app.signal_jobs import Look, stand
from loomwright.app.signal_others import holding
from loomwright.terms.answer import Blocked

BITS = "bits"
"""In a scope, ``bits.drive``: the page tells of the bits of line drive."""


def bits_told(session: Session, scope: tuple[str, ...]) -> str:
    """A sentence where the scope is that of a page of bits; nothing for every other page."""
    name = next((path.partition(".")[2] for path in scope if path.partition(".")[0] == BITS), "")
    if name not in session.view().vehicle.lines:
        return ""
    look = stand(session, "look", name)
    if not isinstance(look.answer, Look):
        return "The bits are judged in the middle of this page; they are not computed yet."
    if look.old:
        return "The bits are judged in the middle of this page; they were not computed since the last change."
    physics = look.answer.physics
    if isinstance(physics.signal, Blocked) or not holding(physics):
        return "The bits are judged in the middle of this page: nobody can say yet."
    late = physics.signal.value.margin_s(physics.signal.value.worst) < 0.0
    worst = "; at the worst of ten extremes of tolerance some are late" if late else ""
    return f"The bits are judged in the middle of this page: {holding(physics)}{worst}."
