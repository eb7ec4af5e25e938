"""Traffic for a terminal: lines, messages, chains, and what was played."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from loomwright.show.quantity import bare, number
from loomwright.show.quantity import text as quantity
from loomwright.show.tables import group, several, table
from loomwright.show.words.found_traffic import not_counted
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.quantity import Kind

if TYPE_CHECKING:
    from rich.console import Group
    from rich.table import Table
    from rich.text import Text

    from loomwright.solve.chains import ChainTimes
    from loomwright.solve.load import LineLoad, StateLoad
    from loomwright.solve.responses import LineResponses, Response
    from loomwright.solve.simulated import LinePlay
    from loomwright.solve.traffic_margins import LineMargins

FEW = 6


def percent(share: float) -> str:
    """A share of a line's time: ``27.5 %``."""
    return f"{number(100.0 * share, 1)} %"


def identifier_text(identifier: int | None, *, extended: bool) -> str:
    """An identifier as it is written everywhere: ``0x181``, ``0x18FEF127``."""
    return "?" if identifier is None else f"0x{identifier:0{8 if extended else 3}X}"


def load_text(
    name: str, load: Answer[LineLoad], least: tuple[StateLoad, tuple[str, ...]] | None = None
) -> Table | Text:
    """How full a line is, state by state, and who says most; how full at least, where some messages cannot be counted."""
    from rich.text import Text

    if isinstance(load, Blocked):
        if least is None:
            return Text(f"Line {name}: its load waits for {several(load.by)}.\n")
        when = f" in state {least[0].state}" if least[0].state else ""
        told = f"at least {percent(least[0].mean)} full in the mean{when}, {not_counted(least[1])}"
        return Text(f"Line {name}: {told}; unknown: {several(load.by)}.\n")
    shown = table(f"Line {name}: how full it is")
    for head, right in (("state", False), ("mean", True), ("at most", True), ("who says most, at most", False)):
        shown.add_column(head, justify="right" if right else "left", overflow="fold")
    for state in load.value.states:
        most = ", ".join(f"{share.name} {percent(share.worst)}" for share in state.senders[:FEW])
        shown.add_row(state.state or "always", percent(state.mean), percent(state.worst), Text(most))
    return shown


def responses_text(name: str, answer: Answer[LineResponses]) -> Table | Text:
    """Every message of a line in the order in which the wire prefers them: how late it may be, and by when it must be there."""
    from rich.text import Text

    if isinstance(answer, Blocked):
        return Text(f"Line {name}: how late its messages may be waits for {several(answer.by)}.\n")
    states = [each.state for each in answer.value.responses]
    usual = max(states, key=states.count, default="")
    when = f"\nWorst in state {usual} where no other is named" if usual else ""
    shown = table(f"Line {name}: by when each message has arrived, in ms from when it is due{when}")
    shown.add_column("identifier", no_wrap=True)
    shown.add_column("message", overflow="fold", min_width=20)
    for head in ("every", "best", "worst", "wanted", "left"):
        shown.add_column(head, justify="right", no_wrap=True)
    for each in answer.value.responses:
        stream = each.stream
        shown.add_row(
            identifier_text(stream.identifier, extended=stream.extended),
            _named(each, usual),
            ("≥ " if stream.event else "") + _ms(stream.period_s),
            _ms(each.best_s),
            _ms(each.here_s),
            _ms(each.wanted_s),
            Text(_ms(each.slack_s), style="bold red" if each.slack_s < 0 else ""),
        )
    return shown


def _named(each: Response, usual: str) -> Text:
    """A message's name; below it what a gateway and the line before may have cost, and a state that is not the usual one."""
    from rich.text import Text

    notes = []
    if each.stream.own_cycle:
        notes.append(f"{_ms(each.stream.delay_s)} of it in the gateway")
    elif each.stream.source_line:
        notes.append(f"and {_ms(each.due_s)} before")
    if each.state != usual:
        notes.append(f"worst in {each.state}")
    return Text(each.stream.name).append("".join(f"\n  {note}" for note in notes), style="dim")


def margins_text(margins: Answer[LineMargins], now_bit_per_s: float | None) -> Text:
    """How slow the line could be, and whose jitter has least room."""
    from rich.text import Text

    if isinstance(margins, Blocked):
        return Text(f"Margins wait for {several(margins.by)}.\n")
    slowest = margins.value.slowest_bit_per_s
    if math.isinf(slowest):
        return Text("At no bit rate would everything be in time.\n")
    if now_bit_per_s is not None and slowest > now_bit_per_s:
        now, then = quantity(now_bit_per_s, Kind.BIT_RATE), quantity(slowest, Kind.BIT_RATE)
        return Text(f"Not in time at {now}; it would be only from {then} on.\n")
    now = "" if now_bit_per_s is None else f" (it runs at {quantity(now_bit_per_s, Kind.BIT_RATE)})"
    told = f"Everything would be in time down to {quantity(slowest, Kind.BIT_RATE)}{now}."
    room = [(time, stream) for stream, time in margins.value.room_s if time is not None]
    if room:
        time, stream = min(room, key=lambda pair: pair[0])
        told += f" Least room for jitter: {stream.name}, {quantity(time, Kind.TIME)} more."
    return Text(told + "\n")


def play_text(answer: Answer[LinePlay]) -> Table | Text | Group:
    """What was observed against what was computed, the closest first."""
    from rich.text import Text

    if isinstance(answer, Blocked):
        return Text(f"It cannot be played yet; unknown: {several(answer.by)}.\n")
    play = answer.value
    state = f" in state {play.state}" if play.state else ""
    disturbed = f" ({play.spoiled} of them disturbed)" if play.spoiled else ""
    shown = table(
        f"Line {play.line} played for {quantity(play.seconds, Kind.TIME)}{state}: {play.frames} frames{disturbed}, "
        f"{percent(play.load)} full, at most {play.backlog} waiting"
    )
    shown.add_column("message", overflow="fold")
    for head in ("seen", "mean, ms", "latest, ms", "bound, ms", "of the bound"):
        shown.add_column(head, justify="right")
    endless = [each for each in play.seen if math.isinf(each.bound_s)]
    closest = sorted((each for each in play.seen if each not in endless), key=lambda each: -each.closeness)
    for each in (*endless[:FEW], *closest[: 2 * FEW]):
        shown.add_row(
            Text(each.stream.name),
            str(each.count) if each.count else "never",
            _ms(each.mean_s) if each.count else "",
            _ms(each.worst_s) if each.count else "",
            _ms(each.bound_s),
            "" if math.isinf(each.bound_s) else percent(each.closeness),
        )
    rest = len(closest) - 2 * FEW
    told = f"{rest} more stayed further below their bounds. " if rest > 0 else ""
    if len(endless) > FEW:
        told = f"{len(endless) - FEW} more have no bound. {told}"
    late = play.above
    if late:
        told = f"ABOVE ITS BOUND, which must not be: {', '.join(each.stream.name for each in late)}. "
    return group(shown, Text(f"{told}A play meets the worst moment seldom; the bound is what to trust.\n", style="dim"))


def chain_text(title: str, within_s: float | None, answer: Answer[ChainTimes]) -> Table | Text | Group:
    """A chain hop by hop, with each one's share."""
    from rich.text import Text

    if isinstance(answer, Blocked):
        return Text(f"{title}: waits for {several(answer.by)}.\n")
    times = answer.value
    if times.broken_at:
        return Text(f"{title}: broken. {times.broken_at} does not hear {times.missing}.\n", style="bold red")
    allowed = "nobody said by when" if within_s is None else f"{quantity(within_s, Kind.TIME)} allowed"
    shown = table(f"{title}: at the latest after {quantity(times.reaction_s, Kind.TIME)}; {allowed}")
    for head in ("hop", "", "line"):
        shown.add_column(head, overflow="fold")
    for head in ("waits, ms", "takes, ms", "share"):
        shown.add_column(head, justify="right")
    for hop in times.hops:
        share = hop.whole_s / times.reaction_s if times.reaction_s and not math.isinf(times.reaction_s) else 0.0
        shown.add_row(hop.kind, Text(hop.name), hop.line, _ms(hop.period_s), _ms(hop.response_s), percent(share))
    return group(shown, Text(f"What is acted on is at most {quantity(times.age_s, Kind.TIME)} old.\n", style="dim"))


def _ms(time_s: float | None) -> str:
    if time_s is None:
        return "?"
    return "no bound" if math.isinf(time_s) else bare(time_s, Kind.TIME, "ms")
