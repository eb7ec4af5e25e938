"""What does the whole vehicle say, and does it arrive?

One answer that holds all others about traffic, because lines hang together by their gateways.
"""

from dataclasses import dataclass

from loomwright.model.speech import Speech
from loomwright.model.table import Table
from loomwright.solve.chains import Age, ChainTimes, age_of, chain_times, gap_of
from loomwright.solve.expectations import Expectation, expectations
from loomwright.solve.hearing import Hearings, hearings
from loomwright.solve.load import LineLoad, line_load
from loomwright.solve.responses import LineResponses, responses
from loomwright.solve.streams import Stream, streams
from loomwright.terms.answer import Answer


@dataclass(frozen=True, slots=True)
class Traffic:
    """Everything that was found out about what is said; by line, by chain, ages and gaps in the order of the needs."""

    streams: tuple[Stream, ...]
    hearings: Hearings
    expectations: tuple[Expectation, ...]
    loads: Table[Answer[LineLoad]]
    responses: Table[Answer[LineResponses]]
    chains: Table[Answer[ChainTimes]]
    ages: tuple[Answer[Age] | None, ...]
    gaps: tuple[Answer[float] | None, ...]

    def on(self, line: str) -> tuple[Stream, ...]:
        """The streams of one line."""
        return tuple(each for each in self.streams if each.line == line)


def traffic(speech: Speech) -> Traffic:
    """Answer every question about a vehicle's traffic."""
    said = streams(speech)
    heard = hearings(speech, said)
    found = responses(speech, said)
    return Traffic(
        said,
        heard,
        expectations(speech, said),
        Table({line: line_load(speech, line, tuple(s for s in said if s.line == line)) for line in speech.media}),
        Table(found),
        Table({name: chain_times(speech, name, said, found) for name in speech.chains}),
        tuple(age_of(speech, need, said, found) for need in heard.needs),
        tuple(gap_of(speech, need, said, found) for need in heard.needs),
    )
