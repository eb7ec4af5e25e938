"""What the page of a line's bits shows of its advice: changes to try, and how long each branch may be."""

from dataclasses import dataclass

from loomwright.app.session import Session
from loomwright.app.signal_advice import SignalAdvice
from loomwright.app.signal_jobs import stand
from loomwright.judge.rules.signal import SIGNAL_RULES
from loomwright.model.vehicle import Vehicle
from loomwright.propose.signal_cures import LEAD, Effect
from loomwright.show.names import component_title
from loomwright.show.quantity import bare
from loomwright.show.signal_advice import BRANCHES_NOTE, LEADS_NOTE, EffectTold, branch_told, effect_told
from loomwright.show.signal_words import left_text
from loomwright.terms.finding import Finding
from loomwright.terms.quantity import Kind

Offered = Effect
_SIGNAL = frozenset(rule.code for rule in SIGNAL_RULES)


@dataclass(frozen=True, slots=True)
class Offer:
    """A change and what it would do, in words. ``title`` names it in forms."""

    title: str
    offered: bool
    margin: str
    corner: str
    lowest: str
    told: EffectTold


@dataclass(frozen=True, slots=True)
class Advised:
    """The advice on a line; rows of ``branches`` are title, metres now, metres at most, and what limits it."""

    offers: tuple[Offer, ...]
    branches: tuple[tuple[str, str, str, str], ...]
    leads_note: str
    branches_note: str


def advised_of(vehicle: Vehicle, found: object) -> Advised | None:
    """Advice in words; ``None`` where there is none."""
    if not isinstance(found, SignalAdvice):
        return None
    effects = found.effects or ()
    rows = [branch_told(room) for room in found.rooms or ()]
    return Advised(
        tuple(_offer(effect) for effect in effects),
        tuple((_title(vehicle, row.port), row.now, row.most, row.by) for row in rows),
        LEADS_NOTE if any(effect.kind == LEAD for effect in effects) else "",
        BRANCHES_NOTE if rows else "",
    )


def offer_of(session: Session, name: str, title: str) -> Effect | None:
    """The change of that title, if it was offered."""
    answer = stand(session, "advice", name).answer
    effects = (answer.effects or ()) if isinstance(answer, SignalAdvice) else ()
    return next((effect for effect in effects if effect.offered and effect.change.title == title), None)


def tried_told(effect: Effect, balance: str) -> str:
    """The balance of a tried change in the margin, and beside it what the margin does not know: the bits of the line."""
    told = effect_told(effect, _of_bits)
    bits = "; ".join(filter(None, (told.cures or "cures: nothing", told.time, told.harms or "breaks nothing")))
    times = "; ".join(
        f"{words} {_ns(was)} becomes {_ns(now)}"
        for words, (was, now) in (("at typical values", effect.typical_s), ("at the worst corner", effect.corner_s))
    )
    mind = f" Mind {told.mind}." if told.mind else ""
    return (
        f"{balance} These are the findings of the margin, which do not know whether bits arrive. Of the bits of this line it "
        f"{bits}. Left at the tightest receiver: {times}.{mind}"
    )


def _of_bits(finding: Finding) -> bool:
    return finding.rule in _SIGNAL


def _offer(effect: Effect) -> Offer:
    return Offer(
        effect.change.title,
        effect.offered,
        left_text(effect.typical_s[1]),
        left_text(effect.corner_s[1]),
        bare(effect.lowest_v[1], Kind.VOLTAGE, "V"),
        effect_told(effect),
    )


def _ns(margin_s: float) -> str:
    words = left_text(margin_s)
    return f"{words} ns" if words[-1:].isdigit() else words


def _title(vehicle: Vehicle, port: str) -> str:
    component = port.partition(".")[0]
    return component_title(component, vehicle.components.get(component))
