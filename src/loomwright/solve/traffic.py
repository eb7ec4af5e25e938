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
from loomwright.solve.transport import Transfer, transfers
from loomwright.terms.answer import Answer
from loomwright.terms.change import Path


@dataclass(frozen=True, slots=True)
class Traffic:
    """Everything that was found out about what is said; by line, by chain, ages and gaps in the order of the needs.

    ``transfers``: of each message in packets its path, its line and how long it takes.
    """

    streams: tuple[Stream, ...]
    hearings: Hearings
    expectations: tuple[Expectation, ...]
    loads: Table[Answer[LineLoad]]
    responses: Table[Answer[LineResponses]]
    chains: Table[Answer[ChainTimes]]
    ages: tuple[Answer[Age] | None, ...]
    gaps: tuple[Answer[float] | None, ...]
    transfers: tuple[tuple[Path, str, Answer[Transfer]], ...]

    def on(self, line: str) -> tuple[Stream, ...]:
        """The streams of one line."""
        return tuple(each for each in self.streams if each.line == line)


def traffic(speech: Speech) -> Traffic:
    """Answer every question about a vehicle's traffic."""
    said = streams(speech)
    heard = hearings(speech, said)
    found = responses(speech, said)
    carried = transfers(speech, said, found)
    return Traffic(
        said,
        heard,
        expectations(speech, said),
        Table({line: line_load(speech, line, tuple(s for s in said if s.line == line)) for line in speech.media}),
        Table(found),
        Table({name: chain_times(speech, name, said, found, carried) for name in speech.chains}),
        tuple(age_of(speech, need, said, found, carried) for need in heard.needs),
        tuple(gap_of(speech, need, said, found, carried) for need in heard.needs),
        tuple((path, line, answer) for (path, line), answer in carried.items()),
    )
