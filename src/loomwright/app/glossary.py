"""The glossary, as pages use it."""

from loomwright.show.glossary import Term, glossary, pieces
from loomwright.terms.errors import LoomwrightError

__all__ = ["NoSuchTermError", "Term", "pieces", "term", "terms"]


class NoSuchTermError(LoomwrightError):
    """A term that the glossary does not have."""


def terms() -> tuple[Term, ...]:
    """Every term, in the order of the alphabet."""
    return tuple(glossary().values())


def term(name: str) -> Term:
    """One term by its name in addresses. Raises ``NoSuchTermError``."""
    found = glossary().get(name)
    if found is None:
        raise NoSuchTermError(f"the glossary has no term {name!r}")
    return found
