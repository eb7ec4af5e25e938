"""Traffic as plain values for ``--json``. Numbers are SI; what has no bound is null."""

from typing import Any

from loomwright.app.plain import headed, number, of_change, of_finding, paths
from loomwright.app.traffic import ChainReport, LineTraffic, TrafficReport
from loomwright.app.traffic_proposals import TrafficProposal
from loomwright.solve.load import StateLoad
from loomwright.solve.responses import Response
from loomwright.solve.simulated import LinePlay
from loomwright.solve.traffic_margins import LineMargins
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.finding import Finding


def of_traffic(
    report: TrafficReport,
    left_out: str,
    proposals: tuple[TrafficProposal, ...] = (),
    written: tuple[str, ...] = (),
) -> dict[str, Any]:
    """A whole report; with what was proposed, and the files that identifiers were written to."""
    return headed(
        "traffic",
        {
            "left_out": left_out,
            "lines": [_line(one) for one in report.lines],
            "chains": [_chain(one) for one in report.chains],
            "findings": [of_finding(finding) for finding in report.findings],
            "proposals": [
                {"line": one.name, "stopped": one.stopped, "changes": [of_change(change) for change in one.changes]}
                for one in proposals
            ],
            "written": list(written),
        },
    )


def of_chains(found: tuple[ChainReport, ...], findings: tuple[Finding, ...]) -> dict[str, Any]:
    """Chains with their findings."""
    return headed(
        "chain",
        {"chains": [_chain(one) for one in found], "findings": [of_finding(finding) for finding in findings]},
    )


def _line(one: LineTraffic) -> dict[str, Any]:
    blocked = [path for answer in (one.load, one.responses) if isinstance(answer, Blocked) for path in answer.by]
    return {
        "name": one.name,
        "bit_rate_bit_per_s": number(one.bit_rate_bit_per_s),
        "blocked_by": paths(tuple(dict.fromkeys(blocked))),
        "states": [] if isinstance(one.load, Blocked) else [_state(state) for state in one.load.value.states],
        "messages": []
        if isinstance(one.responses, Blocked)
        else [_response(each) for each in one.responses.value.responses],
        "margins": _margins(one.margins),
        "play": _play(one.play),
    }


def _state(load: StateLoad) -> dict[str, Any]:
    return {
        "state": load.state,
        "mean": number(load.mean),
        "worst": number(load.worst),
        "senders": [
            {"port": each.name, "mean": number(each.mean), "worst": number(each.worst)} for each in load.senders
        ],
    }


def _response(each: Response) -> dict[str, Any]:
    stream = each.stream
    return {
        "message": stream.message,
        "part": stream.part,
        "identifier": stream.identifier,
        "extended": stream.extended,
        "sender": stream.sender,
        "from_line": stream.source_line,
        "length": stream.length,
        "event": stream.event,
        "period_s": number(stream.period_s),
        "jitter_s": number(each.jitter_s),
        "best_s": number(each.best_s),
        "worst_s": number(each.worst_s),
        "before_this_line_s": number(each.due_s),
        "deadline_s": number(each.deadline_s),
        "state": each.state,
    }


def _chain(one: ChainReport) -> dict[str, Any]:
    body: dict[str, Any] = {"name": one.name, "title": one.title, "within_s": number(one.within_s)}
    if isinstance(one.times, Blocked):
        return body | {"blocked_by": paths(one.times.by)}
    times = one.times.value
    return body | {
        "blocked_by": [],
        "reaction_s": number(times.reaction_s),
        "age_s": number(times.age_s),
        "broken_at": times.broken_at,
        "missing": times.missing,
        "hops": [
            {
                "kind": hop.kind,
                "name": hop.name,
                "line": hop.line,
                "waits_s": number(hop.period_s),
                "takes_s": number(hop.response_s),
            }
            for hop in times.hops
        ],
    }


def _margins(answer: Answer[LineMargins] | None) -> dict[str, Any] | None:
    if answer is None or isinstance(answer, Blocked):
        return None
    return {
        "slowest_bit_per_s": number(answer.value.slowest_bit_per_s),
        "jitter_room": [{"message": each.name, "room_s": number(room)} for each, room in answer.value.room_s],
    }


def _play(answer: Answer[LinePlay] | None) -> dict[str, Any] | None:
    if answer is None or isinstance(answer, Blocked):
        return None
    play = answer.value
    return {
        "state": play.state,
        "seconds": number(play.seconds),
        "load": number(play.load),
        "frames": play.frames,
        "backlog": play.backlog,
        "spoiled": play.spoiled,
        "messages": [
            {
                "message": each.stream.name,
                "count": each.count,
                "worst_s": number(each.worst_s),
                "mean_s": number(each.mean_s),
                "bound_s": number(each.bound_s),
            }
            for each in play.seen
        ],
        "above_bound": [each.stream.name for each in play.above],
    }
