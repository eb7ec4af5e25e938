"""Whether lines have room for what is said, and whether everything arrives in time."""

from collections.abc import Iterator
from typing import Any

from loomwright.judge.evidence import TrafficEvidence
from loomwright.judge.rule import Rule
from loomwright.judge.traffic_cures import stop_passing
from loomwright.model.component import Need
from loomwright.solve.chains import CYCLE, Hop, pages_of
from loomwright.solve.hearing import Hearing
from loomwright.solve.load import least_load
from loomwright.terms.answer import Answer, Blocked, Solved
from loomwright.terms.change import Path
from loomwright.terms.fact import Assumed, Fact, Source, Unknown, bounds_of
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

J1939_LOAD = Limit(
    0.40, Bound.AT_MOST, Kind.RATIO, Source("SAE J1939 as an engine maker's manual quotes it", "average bus load"),
    Standing.SECONDARY,
)  # fmt: skip
USUAL_LOAD = Limit(
    0.50, Bound.AT_MOST, Kind.RATIO, Source("common practice", "mean load of a line, with room to grow"),
    Standing.PRACTICE,
)  # fmt: skip
FULL = Limit(
    1.0, Bound.AT_MOST, Kind.RATIO, Source("arithmetic", "a line cannot carry more than its time"), Standing.COMPUTED
)


def line_load(evidence: TrafficEvidence) -> Iterator[Reading]:
    """The mean load of each line, in the state in which it is fullest."""
    for line, answer in evidence.traffic.loads.items():
        path: Path = ("lines", line)
        medium = evidence.speech.media[line]
        limit = J1939_LOAD if medium.protocol == "J1939" else USUAL_LOAD
        if medium.load_limit is not None:
            limit = Limit(
                medium.load_limit, Bound.AT_MOST, Kind.RATIO, _own(f"lines/{line}.toml", "load_limit"), Standing.SEEN
            )
        if isinstance(answer, Blocked):
            yield _open_load(evidence, line, limit, answer)
        elif evidence.traffic.on(line):
            fullest = answer.value.fullest
            senders = tuple(share.name for share in fullest.senders[:3])
            because = (("line", line), ("state", fullest.state), ("worst", fullest.worst), ("senders", senders))
            yield Reading(path, fullest.mean, limit, because, assumed=answer.assumed, line=line)


def _open_load(evidence: TrafficEvidence, line: str, limit: Limit, answer: Blocked) -> Reading:
    """What can be said of a load that waits for facts: the least it is. Where that is too much, nothing need be waited for."""
    path: Path = ("lines", line)
    least = least_load(evidence.speech, line, evidence.traffic.on(line))
    if least is None:
        return Reading(path, None, limit, (("line", line),), blocked_by=answer.by, line=line)
    fullest, left_out = least
    senders = tuple(share.name for share in fullest.senders[:3])
    because = (
        ("line", line), ("state", fullest.state), ("worst", fullest.worst), ("senders", senders),
        ("least", fullest.mean), ("left_out", left_out),
    )  # fmt: skip
    if fullest.mean > limit.value:
        return Reading(path, fullest.mean, limit, because, line=line)
    return Reading(path, None, limit, because, blocked_by=answer.by, line=line)


def line_overload(evidence: TrafficEvidence) -> Iterator[Reading]:
    """The load with every frame at its longest and every event as often as it can come."""
    for line, answer in evidence.traffic.loads.items():
        if isinstance(answer, Blocked):
            yield Reading(("lines", line), None, FULL, (("line", line),), blocked_by=answer.by, line=line)
            continue
        if not evidence.traffic.on(line):
            continue
        fullest = max(answer.value.states, key=lambda load: load.worst)
        because = (("line", line), ("state", fullest.state))
        yield Reading(("lines", line), fullest.worst, FULL, because, assumed=answer.assumed, line=line)


def in_time(evidence: TrafficEvidence) -> Iterator[Reading]:
    """The worst response of each message against its deadline."""
    idle = {(each.path, each.line) for each in evidence.traffic.hearings.unneeded}
    for line, answer in evidence.traffic.responses.items():
        if isinstance(answer, Blocked):
            limit = _time(0.0, Source("this project", "deadlines of the messages"))
            yield Reading(("lines", line), None, limit, (("line", line),), blocked_by=answer.by, line=line)
            continue
        for each in answer.value.responses:
            stream = each.stream
            stated = stream.deadline_s is not None and not stream.part
            place = "its deadline" if stated else "before the next one is due"
            because = (
                ("message", stream.message), ("part", stream.part), ("line", line), ("state", each.state),
                ("sender", stream.sender), ("due_s", each.due_s), ("stated", stated),
                ("idle", (stream.path, line) in idle), ("passed_on", bool(stream.source_line)),
            )  # fmt: skip
            yield Reading(
                stream.path,
                each.here_s,
                _time(
                    each.wanted_s,
                    _own(stream.message, place),
                ),
                because,
                change=stop_passing(stream) if each.slack_s < 0.0 and (stream.path, line) in idle else None,
                assumed=each.assumed,
                line=line,
            )


def transported_in_time(evidence: TrafficEvidence) -> Iterator[Reading]:
    """The time that each message in packets takes, its sender's others first, against its deadline."""
    for path, line, answer in evidence.traffic.transfers:
        if isinstance(answer, Blocked):
            limit = _time(0.0, Source("this project", "deadlines of the messages"))
            yield Reading(path, None, limit, (("line", line),), blocked_by=answer.by, line=line)
            continue
        found = answer.value
        stream, value = found.stream, found.settled_s
        because = (
            ("message", stream.message), ("line", line), ("sender", stream.sender), ("packets", found.packets),
            ("others", found.others), ("unanswered", found.unanswered), ("least_s", found.least_s),
            ("longest_s", found.longest_s), ("alone_s", found.alone_s), ("stated", stream.deadline_s is not None),
            ("spaced", stream.packet_spacing_s is not None),
        )  # fmt: skip
        place = "its deadline" if stream.deadline_s is not None else "before the next one is due"
        yield Reading(
            path,
            value,
            _time(found.wanted_s, _own(stream.message, place)),
            because,
            blocked_by=(found.spacing_path,) if value is None else (),
            assumed=answer.assumed,
            line=line,
        )


def in_time_out(evidence: TrafficEvidence) -> Iterator[Reading]:
    """The longest gap between two arrivals of what a component needs, against its time-out."""
    for number, need, hearing in _needs(evidence):
        if need.time_out_s is None:
            continue
        pages = pages_of(evidence.speech, hearing)
        because = (("component", hearing.component), ("message", hearing.message), ("pages", pages))
        yield from _aged(evidence.traffic.gaps[number], hearing, need.time_out_s, "time_out_s", because)


def fresh(evidence: TrafficEvidence) -> Iterator[Reading]:
    """The age of what a component needs when it is used, against the age it may have."""
    for number, need, hearing in _needs(evidence):
        if need.fresh_s is None:
            continue
        because = (
            ("component", hearing.component), ("message", hearing.message), ("signal", hearing.signal),
            ("pages", pages_of(evidence.speech, hearing)),
        )  # fmt: skip
        age = evidence.traffic.ages[number]
        whole = Solved(age.value.age_s, age.assumed) if isinstance(age, Solved) else age
        hops = _parts(age.value.stages) if isinstance(age, Solved) else ()
        yield from _aged(whole, hearing, need.fresh_s, "fresh_s", (*because, ("hops", hops)))


def _parts(hops: tuple[Hop, ...]) -> tuple[tuple[str, str, str, float, float], ...]:
    """Of each stage of an age what it is, its name and line, how long it waits and how long it takes, in s."""
    last = len(hops) - 1
    return tuple(
        (hop.kind, hop.name, hop.line, 0.0 if at == last and hop.kind == CYCLE else hop.period_s, hop.response_s)
        for at, hop in enumerate(hops)
    )


def chain_in_time(evidence: TrafficEvidence) -> Iterator[Reading]:
    """The longest time from cause to effect of each chain."""
    for name, answer in evidence.traffic.chains.items():
        path: Path = ("chains", name)
        chain = evidence.speech.chains[name]
        limit_path = (*path, "within_s")
        limit = _time(_least(chain.within_s), _own(chain.title or name, "within"))
        because: tuple[tuple[str, Any], ...] = (("chain", chain.title or name),)
        blocked = (limit_path,) if isinstance(chain.within_s, Unknown) else ()
        if isinstance(answer, Blocked):
            blocked = (*blocked, *answer.by)
        else:
            hops = tuple((hop.kind, hop.name, hop.line, hop.whole_s) for hop in answer.value.hops)
            because = (
                *because, ("hops", hops), ("age_s", answer.value.age_s), ("broken_at", answer.value.broken_at),
                ("missing", answer.value.missing),
            )  # fmt: skip
        value = None if blocked or isinstance(answer, Blocked) else answer.value.reaction_s
        assumed = answer.assumed if not isinstance(answer, Blocked) else ()
        yield Reading(path, value, limit, because, blocked_by=blocked, assumed=assumed)


def _needs(evidence: TrafficEvidence) -> Iterator[tuple[int, Need, Hearing]]:
    for number, hearing in enumerate(evidence.traffic.hearings.needs):
        yield number, evidence.speech.voices[hearing.component].needs[str(hearing.path[-1])], hearing


def _aged(
    answer: Answer[float] | None,
    hearing: Hearing,
    wanted: Fact[float],
    field: str,
    because: tuple[tuple[str, Any], ...],
) -> Iterator[Reading]:
    """One reading of an age or a gap; none where the message is not heard, which other rules tell."""
    if answer is None or hearing.stream is None:
        return
    path = (*hearing.path, field)
    blocked = (path,) if isinstance(wanted, Unknown) else ()
    blocked = (*blocked, *answer.by) if isinstance(answer, Blocked) else blocked
    limit = _time(_least(wanted), _own(hearing.component, field.removesuffix("_s")))
    value = None if blocked or isinstance(answer, Blocked) else answer.value
    assumed = answer.assumed if not isinstance(answer, Blocked) else ()
    own = (path,) if isinstance(wanted, Assumed) else ()
    yield Reading(path, value, limit, because, blocked_by=blocked, assumed=(*own, *assumed), line=hearing.stream.line)


def _least(wanted: Fact[float]) -> float:
    """The strictest that is meant, where a range is allowed; 0 for what nobody knows, which is held against nothing."""
    return 0.0 if isinstance(wanted, Unknown) else bounds_of(wanted)[0]


def _time(value: float, source: Source) -> Limit:
    return Limit(value, Bound.AT_MOST, Kind.TIME, source, Standing.SEEN)


def _own(document: str, place: str) -> Source:
    """A limit that stands in the project itself."""
    return Source(f"this project: {document}", place)


RULES = (
    Rule("line-load", "A line has room to spare", line_load),
    Rule("line-overload", "A line can carry all that may be said", line_overload),
    Rule("in-time", "Every message arrives in time", in_time),
    Rule("transported-in-time", "Every message in packets is there in time", transported_in_time),
    Rule("in-time-out", "No receiver gives a living sender up", in_time_out),
    Rule("fresh", "Every value is fresh when it is used", fresh),
    Rule("chain-in-time", "Every effect follows its cause in time", chain_in_time),
)
