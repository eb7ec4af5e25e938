"""The command that looks for what helps, and its words."""

import io
from importlib.resources import files
from pathlib import Path

import pytest
from rich.console import Console

from loomwright.app.project import open_project
from loomwright.app.traffic import NoSuchLineError
from loomwright.app.traffic_proposals import traffic_proposals
from loomwright.model.variant import changed
from loomwright.propose.traffic_identifiers import BLOCKED, IdentifierProposal
from loomwright.show.traffic_proposals import identifiers_sentence, proposals_text

EXAMPLES = Path(str(files("loomwright") / "examples"))


@pytest.fixture(scope="module")
def truck():
    return open_project(EXAMPLES / "tipper-as-found")


def printed(proposal, width=140):
    console = Console(width=width, record=True, file=io.StringIO())
    console.print(proposals_text(proposal.name, proposal.identifiers, proposal.offsets, proposal.moves))
    return console.export_text()


def test_every_line_is_looked_at_and_moves_only_where_a_line_is_in_trouble(truck):
    found = {each.name: each for each in traffic_proposals(truck)}
    assert list(found) == list(truck.vehicle.lines)
    assert [name for name, each in found.items() if each.moves is not None] == ["old"]
    assert not any(each.stopped for each in found.values())


def test_the_words_name_the_message_its_identifiers_and_what_stays_late(truck):
    (old,) = traffic_proposals(truck, "old")
    said = printed(old)
    (new,) = old.identifiers.new
    for words in (
        "inverter.motion",
        "0x300",
        f"0x{new.after:03X}",
        "old_truck.wheel_pulses",
        "that is proved",
        "do not count on offsets",
    ):
        assert words in " ".join(said.split()), words


def test_a_pump_alone_on_a_line_is_moved_where_it_is_heard(truck):
    (pumps,) = traffic_proposals(truck, "pumps")
    assert any(move.component == "drive_pump" and move.offered for move in pumps.moves.found)
    assert "drive_pump" in printed(pumps)


def test_every_change_that_is_offered_breaks_nothing_of_traffic_that_held(truck):
    answers, vehicle = truck.answers, truck.vehicle

    def late(tried):
        responses = answers.traffic(tried).responses
        return {
            each.stream.message
            for answer in responses.values()
            for each in answer.value.responses
            if each.slack_s < 0.0
        }

    before = late(vehicle)
    changes = [change for each in traffic_proposals(truck) for change in each.changes]
    assert changes
    for change in changes:
        assert late(changed(vehicle, change)) < before


def test_the_search_can_be_stopped_between_lines(truck):
    found = traffic_proposals(truck, progress=lambda what, _done, _all: "old" not in what)
    assert [each.name for each in found] == ["body", "drive", "old"]
    assert found[-1].stopped
    assert found[-1].identifiers is None


def test_a_line_that_is_not_there_is_told(truck):
    with pytest.raises(NoSuchLineError, match="body, drive, old, pumps"):
        traffic_proposals(truck, "nose")


def test_an_open_fact_is_told_in_words():
    found = IdentifierProposal("bus", BLOCKED, blocked_by=(("lines", "bus", "bit_rate_bit_per_s"),))
    assert "wait for" in identifiers_sentence(found)


def test_what_a_choice_would_harm_is_named():
    harmed = tuple(("fresh", f"components.c{n}.needs.torque") for n in range(6))
    said = identifiers_sentence(IdentifierProposal("bus", "no better choice was found", breaks=harmed))
    assert "fresh of need torque of c0; " in said
    assert "and 2 more" in said
