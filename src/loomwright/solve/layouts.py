"""Do a message's signals have their own bits, within the message?"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, islice, product

from loomwright.laws.signal_bits import positions
from loomwright.model.message import Message, Signal


@dataclass(frozen=True, slots=True)
class Layout:
    """Who has which bits: signals that reach beyond the message, and pairs that share bits at the same time."""

    beyond: tuple[str, ...]
    shared: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Page:
    """The signals that are in a message together; ``when``: the values of each selecting signal with which they are."""

    when: tuple[tuple[str, tuple[int, ...]], ...]
    signals: tuple[str, ...]


MOST_PAGES = 64
"""Pages after which nobody reads on: selectors that know nothing of each other multiply."""


def bits_of(signal: Signal) -> tuple[int, ...]:
    """The numbers of a signal's bits, its lowest first."""
    return positions(signal.start, signal.bits, signal.byte_order)


def pages_of(message: Message) -> tuple[Page, ...]:
    """Which signals are in the message together, for every value of its selecting signals; at most ``MOST_PAGES``."""
    signals = message.signals
    always = tuple(name for name, signal in signals.items() if signal.selected_by not in signals)
    return tuple(islice(_pages(message, always, ()), MOST_PAGES))


def _pages(message: Message, there: tuple[str, ...], path: tuple[str, ...]) -> Iterator[Page]:
    """Pages that begin with the signals that are there; each of them may select others."""
    branches = [_branches(message, name, path) for name in there]
    for chosen in product(*(found for found in branches if found)):
        when = tuple(each for page in chosen for each in page.when)
        more = {name for page in chosen for name in page.signals}
        yield Page(when, tuple(name for name in message.signals if name in there or name in more))


def _branches(message: Message, selector: str, path: tuple[str, ...]) -> list[Page]:
    """What one selecting signal brings, values with which it brings the same taken together."""
    if selector in path:  # a ring of selectors brings nothing
        return []
    picked: dict[int, list[str]] = {}
    for name, signal in message.signals.items():
        for value in signal.selected_when if signal.selected_by == selector else ():
            picked.setdefault(value, []).append(name)
    values: dict[tuple[str, ...], list[int]] = {}
    for value in sorted(picked):
        values.setdefault(tuple(picked[value]), []).append(value)
    return [
        Page(((selector, tuple(which)), *page.when), page.signals)
        for names, which in values.items()
        for page in islice(_pages(message, names, (*path, selector)), MOST_PAGES)
    ]


def pages_between(message: Message, name: str) -> int:
    """After how many messages a signal comes again at the latest, where pages are sent in turn; 1 where it always comes.

    A page is a value of the selecting signal with which any signal is there. A selector that is on a page itself moves on
    each time its page comes.
    """
    signal = message.signals.get(name)
    if signal is None:
        return 1
    count = 1
    for selector, own in conditions_of(message, signal).items():
        pages = {
            value for each in message.signals.values() if each.selected_by == selector for value in each.selected_when
        }
        count *= max(1, len(pages) - len(own) + 1)
    return count


def layout_of(message: Message) -> Layout:
    """See which bits each signal takes."""
    taken = {name: _bits(signal) for name, signal in message.signals.items()}
    beyond = tuple(name for name, bits in taken.items() if max(bits, default=0) >= 8 * message.length)
    shared = tuple(
        (one, two)
        for one, two in combinations(taken, 2)
        if taken[one] & taken[two] and _together(message, message.signals[one], message.signals[two])
    )
    return Layout(beyond, shared)


def _bits(signal: Signal) -> frozenset[int]:
    return frozenset(bits_of(signal))


def _together(message: Message, one: Signal, two: Signal) -> bool:
    """Whether two signals can be in the message at the same time."""
    mine, theirs = conditions_of(message, one), conditions_of(message, two)
    return all(mine[selector] & theirs[selector] for selector in mine.keys() & theirs.keys())


def conditions_of(message: Message, signal: Signal) -> dict[str, frozenset[int]]:
    """What each selecting signal must say for this one to be there; a selector may be selected itself."""
    found: dict[str, frozenset[int]] = {}
    while signal.selected_by and signal.selected_by not in found and signal.selected_by in message.signals:
        found[signal.selected_by] = frozenset(signal.selected_when)
        signal = message.signals[signal.selected_by]
    return found
