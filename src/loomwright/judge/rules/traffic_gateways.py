"""Whether gateways can pass on what they are to."""

from collections.abc import Iterator

from loomwright.judge.evidence import TrafficEvidence
from loomwright.judge.rule import Rule
from loomwright.solve.forwarding import BRINGS, forwardings
from loomwright.terms.fact import Source
from loomwright.terms.finding import Reading
from loomwright.terms.limit import Bound, Limit, Standing
from loomwright.terms.quantity import Kind

PASSED_ON = Limit(
    1.0, Bound.AT_LEAST, Kind.COUNT, Source("common practice", "what a gateway is to pass on, it hears, and its port is on a line"),
    Standing.PRACTICE, counted=("way on", "ways on"),
)  # fmt: skip


def forward_heard(evidence: TrafficEvidence) -> Iterator[Reading]:
    """See of each forward whether its message comes to the line it is meant for."""
    for each in forwardings(evidence.speech, evidence.traffic.streams):
        because = (
            ("component", each.component),
            ("message", each.message),
            ("port", each.port),
            ("line", each.line),
            ("outcome", each.outcome),
            ("on", each.sent_on),
            ("states", each.states),
        )
        yield Reading(each.path, float(each.outcome == BRINGS), PASSED_ON, because, line=each.line)


RULES = (Rule("forward-heard", "A gateway hears what it passes on", forward_heard),)
