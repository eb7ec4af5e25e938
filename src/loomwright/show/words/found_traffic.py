"""What each rule of traffic found, in a sentence."""

import math
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from loomwright.show.quantity import text as quantity
from loomwright.show.words.case import Case
from loomwright.solve.forwarding import NO_LINE, OTHER_STATES, UNHEARD, UNSENT
from loomwright.terms.finding import Reading
from loomwright.terms.quantity import Kind


def _sent(case: Case) -> str:
    need = f"{case.of('component')} needs {case.of('message')}"
    if case.good:
        return f"{need}; {case.of('sender')} sends it."
    sender = case.of("sender", "")
    return f"{need}, and nobody sends it" + (f": its sender {sender} is on no line." if sender else ".")


def _heard(case: Case) -> str:
    need = f"{case.of('component')} needs {case.of('message')}"
    if case.good:
        return f"{need} and hears it."
    return f"{need}, which is sent on {case.of('on')} only; {case.of('component')} is on no such line and no gateway passes it on."


def _needed(case: Case) -> str:
    if case.good:
        return f"{case.of('message')} on {case.of('line')} is needed."
    return f"{case.of('sender')} sends {case.of('message')} on {case.of('line')}, and nobody there needs it."


def _senders(case: Case) -> str:
    identifier = _identifier(case.because.get("identifier"))
    if case.good:
        return f"Only {case.of('senders')} sends {identifier} ({case.of('messages')})."
    if case.because.get("described"):
        places = [f"{name} in messages/{name.partition('.')[0]}.toml" for name in case.because.get("messages", ())]
        return f"{identifier} of {case.of('senders')} is described more than once as sent: {' and '.join(places)}."
    return f"{identifier} is sent by {case.of('senders')} at once: {case.of('messages')}."


def _passed_on(case: Case) -> str:
    message, line = case.of("message"), case.of("line", "")
    if case.good:
        return f"{case.of('component')} hears {message} and passes it on to {line}."
    told = f"{case.of('component')} is to pass {message} on" + (f" to {line}" if line else "")
    why = {
        NO_LINE: f"its port {case.of('port')} is on no line",
        UNSENT: "nobody sends it",
        UNHEARD: f"it is sent on {case.of('on', '')} only, where {case.of('component')} does not hear it",
        OTHER_STATES: f"it hears it in {case.of('states', '')} only, when it is to pass nothing on",
    }
    return f"{told}, but {why.get(case.because.get('outcome', ''), 'it cannot')}."


def _taken(case: Case) -> str:
    identifier = _identifier(case.because.get("identifier"))
    if case.good:
        return f"{case.of('messages')} comes to the line as {identifier}, which is free there."
    return f"A gateway brings {identifier} to a line where it is taken: {case.of('messages')}, sent by {case.of('senders')}."


def _bits(case: Case) -> str:
    if case.good:
        return f"Every signal of {case.of('message')} has bits of its own."
    shared = "; ".join(f"{one} and {two} share bits" for one, two in case.because.get("shared", ()))
    beyond = case.of("beyond", "")
    told = [part for part in (shared, f"beyond the last byte: {beyond}" if beyond else "") if part]
    return f"In {case.of('message')}: {'; '.join(told)}."


def _definition(case: Case) -> str:
    if case.good:
        return f"{case.of('port')} is sent {case.of('message')} as its manual describes it ({case.of('sent')})."
    sent, wanted = case.because.get("periods_s") or (None, None)
    often = f" (every {quantity(sent, Kind.TIME)}, not {quantity(wanted, Kind.TIME)})" if sent and wanted else ""
    return f"{case.of('port')} expects {case.of('message')}: {_listed(case)}{often}."


def _guards(case: Case) -> str:
    if case.good:
        return f"{case.of('sent')} has the counter and checksum that {case.of('port')} expects."
    return f"{case.of('port')} will not accept {case.of('sent')}: {_listed(case)}."


def _listed(case: Case) -> str:
    return "; ".join(str(each) for each in case.because.get("differences", ())) or "they differ"


def _width(case: Case) -> str:
    joined = "fits" if case.good else "does not fit"
    return f"{case.of('message')} has an identifier of {case.of('width')}s, which {joined} line {case.of('line')}."


def _fits(case: Case) -> str:
    if case.good:
        return f"{case.of('message')} fits the frames of {case.of('line')}."
    return f"{case.of('message')} does not fit line {case.of('line')}: {case.of('why')}."


def _address(case: Case) -> str:
    if case.good:
        return f"Address {case.of('address')} on {case.of('line')} belongs to {case.of('ports')} alone."
    return f"Address {case.of('address')} on {case.of('line')} is claimed by {case.of('ports')}."


def _addressed(case: Case) -> str:
    if case.good:
        return f"{case.of('message')} ends in the address of {case.of('port')}, {case.of('address')}."
    return f"{case.of('message')} ends in address {case.of('source')}; its sender {case.of('port')} has {case.of('address')}."


def least_load_text(reading: Reading) -> str:
    """How full a line is at least, where some of its messages cannot be counted; empty for anything else."""
    because = dict(reading.because)
    if "least" not in because:
        return ""
    state = f" in state {because['state']}" if because["state"] else ""
    return (
        f"Line {because['line']} is at least {quantity(because['least'], Kind.RATIO)} full in the mean{state}, "
        f"{not_counted(because['left_out'])}."
    )


def not_counted(messages: Sequence[str]) -> str:
    """How many messages a load leaves out."""
    return f"{len(messages)} message{'' if len(messages) == 1 else 's'} not counted"


def traffic_cure(rule: str, reading: Reading) -> str:
    """What helps in this very case, where that is more than the rule's own page says; else empty."""
    because = dict(reading.because)
    if rule == "message-sent" and because.get("sender"):
        return f"Put {because['sender']} on a line, one that {because['component']} hears or that a gateway passes on from."
    if rule == "in-time" and because.get("idle"):
        if because.get("passed_on"):
            return "Nobody there needs it: take the forward out of the gateway."
        return "Nobody there needs it: switch it off or slow it down where the component lets you, or write down who needs it."
    if rule == "fresh" and because.get("hops"):
        return _fresher(because["hops"])
    return ""


def _fresher(hops: Sequence[tuple[str, str, str, float, float]]) -> str:
    """What to change first in an age: the longest of all waits and ways, with its share."""
    whole = sum(waits + takes for *_, waits, takes in hops)
    parts: list[tuple[float, str, str, str, str]] = []
    for kind, name, line, waits, takes in hops:
        parts += [(waits, "waits", kind, name, line), (takes, "takes", kind, name, line)]
    longest, what, kind, name, line = max(parts, key=lambda part: part[0])
    if not math.isfinite(longest):
        return f"{name} has no bound on line {line}: cure that first."
    cures = {
        ("message", "waits"): f"until {name} is sent again: send it more often",
        (
            "message",
            "takes",
        ): f"for the way of {name} over line {line}: give it a lower identifier, or take load off the line",
        ("gateway", "waits"): f"until {name} repeats it on line {line}: shorten the forward's period, or leave it out",
        ("gateway", "takes"): f"in {name}, which passes it on to line {line}: shorten its delay",
        ("cycle", "takes"): f"for {name}'s own cycle: shorten it",
        ("cycle", "waits"): f"until {name} looks: shorten its cycle",
    }
    share = quantity(longest / whole, Kind.RATIO) if whole else "Most"
    return f"{share} of it, {quantity(longest, Kind.TIME)}, goes by {cures[kind, what]}."


def _load(case: Case) -> str:
    state = case.of("state", "")
    least = "at least " if "least" in case.because else ""
    told = f"{case.of('line')} is {least}{case.value} full in the mean" + (f" in state {state}" if state else "")
    if least:
        return f"{told}, {not_counted(case.because['left_out'])}. Most is said by {case.of('senders')}."
    return f"{told}, {case.amount('worst', Kind.RATIO)} at the most. Most is said by {case.of('senders')}."


def _overload(case: Case) -> str:
    state = case.of("state", "")
    return (
        f"With every frame at its longest and every event as often as it may, {case.of('line')} is {case.value} full"
        + (f" in state {state}." if state else ".")
    )


def _in_time(case: Case) -> str:
    part = case.of("part", "")
    name = case.of("message") + (f" ({part})" if part else "")
    where = f"{name} on {case.of('line')}"
    aim = f"{case.limit}" if case.because.get("stated") else f"{case.limit}, when the next one is due"
    idle = " Nobody there needs it." if case.because.get("idle") and not case.good else ""
    if case.number == float("inf"):
        return f"{where} may be late without bound: what outranks it can fill the line. It has {aim}.{idle}"
    return f"{where} arrives at the latest {case.value} after it is due; it has {aim}.{idle}"


def _transported(case: Case) -> str:
    where = f"{case.of('message')} on {case.of('line')}, in {case.of('packets')} packets,"
    aim = f"{case.limit}" if case.because.get("stated") else f"{case.limit}, when the next one is due"
    nobody = case.because.get("unanswered")
    if nobody is not None:
        return f"{where} is for address {nobody}, which nobody there has: no receiver lets its packets come."
    others = f", waiting for {case.of('others')} of its sender first" if case.because.get("others") else ""
    if case.number == float("inf"):
        alone = case.amount("alone_s", Kind.TIME)
        return (
            f"{where} never gets done: it takes {alone} at the least{others}, again and again; it has {aim}. "
            "A sender can send one such message at a time."
        )
    longest = "" if case.because.get("spaced") or not case.good else ", with the longest time allowed between packets"
    least = "" if case.because.get("spaced") or case.good else " even with the least time allowed between packets"
    return f"{where} is there {case.value} after it is due at the latest{longest}{least}{others}; it has {aim}."


def _time_out(case: Case) -> str:
    pages = case.because.get("pages", 1)
    turn = (
        f" It comes on one of its message's pages, taken to be sent in turn, again after {pages}." if pages > 1 else ""
    )
    if case.number == float("inf"):
        return (
            f"{case.of('component')} takes the sender of {case.of('message')} for lost after {case.limit}, and nothing "
            "says that it comes again by then: it is sent on an event, or never done."
        )
    return (
        f"{case.of('component')} may hear nothing of {case.of('message')} for {case.value}; "
        f"it takes its sender for lost after {case.limit}.{turn}"
    )


def _fresh(case: Case) -> str:
    what = case.of("message") + (f", {case.of('signal')}," if case.of("signal", "") else "")
    pages = case.because.get("pages", 1)
    turn = f" It is on one of its message's pages, taken to be sent in turn, again after {pages}." if pages > 1 else ""
    return f"{what} may be {case.value} old when {case.of('component')} uses it; {case.limit} is allowed.{turn}"


def _played(case: Case) -> str:
    told = f"Played for {case.amount('seconds', Kind.TIME)}, {case.of('message')} on {case.of('line')} arrived at the latest "
    if case.good:
        return f"{told}{case.value} after it was due; its bound is {case.limit}."
    return f"{told}{case.value} after it was due, and {case.limit} was computed as the most that can be: the program is wrong here."


def _chain(case: Case) -> str:
    at = case.of("broken_at", "")
    if at:
        return f"{case.of('chain')}: broken, because {at} does not hear {case.of('missing')}."
    hops = case.because.get("hops", ())
    longest = max(hops, key=lambda hop: hop[3], default=None)
    told = f"{case.of('chain')}: at the latest after {case.value}; {case.limit} is allowed."
    if longest is None:
        return told
    return f"{told} Most of it, {quantity(longest[3], Kind.TIME)}, goes into the {longest[0]} of {longest[1]}."


def _identifier(found: Any) -> str:
    return f"0x{found:X}" if isinstance(found, int) else "The identifier"


FOUND_TRAFFIC: Mapping[str, Callable[[Case], str]] = MappingProxyType(
    {
        "message-sent": _sent,
        "message-heard": _heard,
        "message-needed": _needed,
        "one-sender": _senders,
        "forward-heard": _passed_on,
        "forward-identifier": _taken,
        "signals-fit": _bits,
        "same-definition": _definition,
        "same-guards": _guards,
        "identifier-width": _width,
        "message-fits": _fits,
        "one-address": _address,
        "address-in-identifier": _addressed,
        "line-load": _load,
        "line-overload": _overload,
        "in-time": _in_time,
        "transported-in-time": _transported,
        "in-time-out": _time_out,
        "fresh": _fresh,
        "chain-in-time": _chain,
        "play-in-bounds": _played,
    }
)
