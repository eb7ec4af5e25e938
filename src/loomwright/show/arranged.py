"""A plan of all lines, put into words and one table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from loomwright.show.quantity import bare
from loomwright.show.quantity import text as quantity
from loomwright.show.words import path_words
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group

    from loomwright.propose.arrangement import Arrangement, Difference, LockPrice, SecondBest
    from loomwright.propose.task import Unplaced


TIMINGS = {
    "asked": "Messages were kept in mind: mean loads below their limits, and no line on which one would be late, as far as "
    "plans go. What a gateway passes on was taken as it is now; forwards that a new plan needs are not in it, so ask "
    "`loomwright check` again with the plan applied.",
    "unfinished": "Messages were kept in mind, but the time was over before a plan came out whose response times were all "
    "counted: some line may have late messages that are not told here.",
}


def headline(plan: Arrangement) -> str:
    """How good the plan is known to be, in one sentence."""
    if plan.score_m is None or plan.bound_m is None:
        return f"There is no plan: {plan.status}."
    figures = f"{_metres(plan.cable_m)} of cable, score {_metres(plan.score_m)}"
    stopped = " It was stopped early." if plan.cancelled else ""
    if plan.gap is not None and plan.gap > 0.0:
        return f"The best plan found: {figures}; none can score below {_metres(plan.bound_m)} (gap {100 * plan.gap:.1f} %).{stopped}"
    return f"Proved optimal: {figures}; no plan that breaks as few rules scores less.{stopped}"


def remarks(plan: Arrangement) -> Iterator[str]:
    """Everything else a person should know of a plan, a sentence each."""
    weights = plan.weights
    yield (
        f"Score: trunk, plus {weights.branch:g} times the branches, plus {_metres(weights.terminator_m)} for each plug-in "
        "terminator; broken rules count before any cable."
    )
    for port in plan.unplaced:
        yield _unplaced(port)
    for rule in plan.broken:
        where = ", ".join(
            part for part in (rule.line and f"line {rule.line}", rule.port, rule.lock and f"lock {rule.lock}") if part
        )
        yield f"It breaks {rule.rule}{f' ({where})' if where else ''}; {_fewest(plan)}"
    for price in plan.lock_prices:
        yield _price(price)
    if plan.second_best is not None:
        yield _second(plan.second_best)
    if plan.timing:
        yield TIMINGS[plan.timing]
    for path in plan.times_wait_for:
        yield f"Response times wait for an open fact: {path_words(path)}."
    for path in plan.left_aside:
        yield f"Planned without an open fact: {path_words(path)}."
    for path in plan.dropped:
        yield f"A measured length is not carried over: {path_words(path)}; measure it again."


def arrangement_text(plan: Arrangement) -> Group:
    """The plan for a terminal: headline, a table of lines, remarks."""
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("line")
    for head in ("cable, m", "trunk, m", "branches, m", "longest, m", "plug-in terminators"):
        table.add_column(head, justify="right")
    for line in plan.lines:
        lengths = (line.cable_m, line.trunk_m, line.branches_m, line.longest_branch_m)
        table.add_row(line.line, *(bare(length, Kind.LENGTH, "m") for length in lengths), str(line.terminators))
    said = [Text(sentence) for sentence in remarks(plan)]
    return Group(Text(headline(plan), style="bold"), Text(""), table, Text(""), *said, Text(""))


def _fewest(plan: Arrangement) -> str:
    """Whether another plan could break fewer rules; a port without a line weighs more than any rule."""
    fewest = plan.fewest_broken % plan.weights.unplaced
    return f"no plan breaks fewer than {fewest}." if fewest else "that is all any plan can do."


def _metres(length_m: float | None) -> str:
    return "no known length" if length_m is None else quantity(length_m, Kind.LENGTH)


def _unplaced(port: Unplaced) -> str:
    against = "; ".join(f"{line}: {', '.join(reasons)}" for line, reasons in port.against)
    waits = ", ".join(path_words(path) for path in port.blocked_by)
    return (
        f"{port.port} finds no line"
        + (f" ({against})" if against else "")
        + (f"; it waits for {waits}" if waits else "")
        + "."
    )


def _price(price: LockPrice) -> str:
    if price.cable_m is None or price.rules is None:
        return f"What lock {price.lock} costs was not found in the time given."
    sure = "" if price.proved else " at least as far as was searched"
    if price.rules > 0:
        return f"Without lock {price.lock} the plan would break {price.rules} fewer rules{sure}."
    if abs(price.score_m or 0.0) < 0.0005:
        return f"Lock {price.lock} costs nothing{sure}."
    return f"Lock {price.lock} costs {_metres(price.cable_m)} of cable (score {_metres(price.score_m)}){sure}."


def _second(second: SecondBest) -> str:
    if second.cable_m is None or second.score_m is None:
        return f"Second-best plan: {second.status}."
    differs = "; ".join(_difference(item) for item in second.differs)
    proved = "" if second.status == "proved optimal" else f", {second.status}"
    return f"The second-best plan{proved} needs {_metres(second.cable_m)} of cable, score {_metres(second.score_m)}: {differs}."


def _difference(item: Difference) -> str:
    if item.what == "trunk":
        new = [place for place in item.there if place not in item.here]
        gone = [place for place in item.here if place not in item.there]
        parts = [f"passes {', '.join(new)}" if new else "", f"leaves out {', '.join(gone)}" if gone else ""]
        return f"the trunk of {item.name} {' and '.join(part for part in parts if part) or 'takes another way'}"
    word = "is on line" if item.what == "line" else "joins at"
    return f"{item.name} {word} {', '.join(item.there) or 'none'} instead of {', '.join(item.here) or 'none'}"
