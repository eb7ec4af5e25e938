"""Commands that only look something up: open questions, the meaning of a rule."""

from loomwright.app.project import Project
from loomwright.judge import RULES
from loomwright.judge.about import About
from loomwright.judge.about_signal import SIGNAL_ABOUT
from loomwright.judge.pages import PAGES
from loomwright.solve.unknowns import OpenQuestion, unknowns
from loomwright.terms.errors import LoomwrightError


class NoSuchRuleError(LoomwrightError):
    """A rule code that does not exist; the nearest codes are in the message."""


def open_questions(project: Project) -> tuple[OpenQuestion, ...]:
    """Every unknown fact, the one that frees most answers first."""
    vehicle = project.vehicle
    return unknowns(vehicle, project.answers.waiting(vehicle))


def rule_codes() -> tuple[str, ...]:
    """Every rule's code, in the order in which they are judged."""
    return (*(rule.code for rule in RULES), *SIGNAL_ABOUT)


def explain(code: str) -> About:
    """What a rule measures, why, and where its limit comes from. Raises ``NoSuchRuleError``."""
    from difflib import get_close_matches

    if code not in PAGES:
        near = get_close_matches(code, rule_codes(), 3)
        hint = f"did you mean {' or '.join(near)}?" if near else "`loomwright explain` alone lists them all"
        raise NoSuchRuleError(f"there is no rule {code!r}; {hint}")
    return PAGES[code]
