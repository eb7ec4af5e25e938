"""Components on another line: what is planted to be cured by a move is, and the change holds when it is judged alone."""

from dataclasses import replace

import pytest

from loomwright.model.component import Forward
from loomwright.model.variant import changed
from loomwright.model.vehicle import Lock
from loomwright.propose.traffic_moves import is_pressed, moves
from loomwright.terms.fact import Known
from tests.propose.traffic_build import asker, component, line, message, port, vehicle


def two_lines(*, free_port=False, talker_rates=(125e3,), forwards=None, locks=None):
    """A quick talker on a line of 125 kbit/s that it overfills; another line has room. A gateway masters both."""
    ports = {"can": port(*talker_rates)}
    if free_port:
        ports["spare"] = port(125e3, needed=False)
    gateway = component("a", "gateway", a=port(), b=port(), forwards=forwards)
    return vehicle(
        {
            "gate": gateway,
            "talker": component("c", **ports),
            "ear": component("d", can=port(), needs=("talk.m0",)),
            "far": component("e", can=port()),
        },
        {
            "full": line("gate.a", "talker.can", "ear.can", controller="gate.a"),
            "free": line("gate.b", "far.can", controller="gate.b", places=("b", "f")),
        },
        {
            "talk": ("talker.can", {f"m{at}": message(0x100 + at, 8e-3) for at in range(4)}),
            "others": ("ear.can", {"e0": message(0x300, 8e-3)}),
        },
        locks=locks,
    )


def searched(base, name="full", told=lambda _done, _all: True):
    ask = asker()
    return moves(base, name, ask(base), ask, told)


def test_the_talker_is_moved_and_the_gateway_passes_on_what_is_needed():
    base, ask = two_lines(), asker()
    before = ask(base)
    assert is_pressed(before.traffic, before, "full")
    assert not is_pressed(before.traffic, before, "free")
    best = searched(base).found[0]
    assert best.offered
    assert (best.component, best.onto, best.forwards) == ("talker", "free", ("talk.m0",))
    assert ("line-load", "lines.full") in best.cured
    after = ask(changed(base, best.change))
    fullest = max(after.traffic.loads[name].value.fullest.mean for name in base.lines)
    assert best.load == pytest.approx(
        (max(before.traffic.loads[name].value.fullest.mean for name in base.lines), fullest), abs=1e-12
    )
    assert {need.outcome for need in after.traffic.hearings.needs} == {"heard"}
    ports = [station.port for station in changed(base, best.change).lines["free"].stations]
    assert ports[0] == ports[-1] == ""
    assert ports.count("talker.can") == 1


def test_a_free_port_takes_over_what_the_other_sends_and_passes_on():
    base = two_lines(free_port=True, talker_rates=(100e3,))
    best = searched(base).found[0]
    assert best.onto_port == "talker.spare"
    then = changed(base, best.change)
    assert then.messages["talk"].sender == "talker.spare"


def test_a_forward_that_is_no_more_needed_goes():
    base = two_lines(forwards={"on": Forward("talk.m1", "b")})
    base = replace(base, components=base.components.put("far", component("e", can=port(), needs=("talk.m1",))))
    best = next(move for move in searched(base).found if move.component == "talker")
    assert best.idle == ("talk.m1",)
    assert "on" not in changed(base, best.change).components["gate"].forwards


@pytest.mark.parametrize("locked", [False, True])
def test_who_masters_a_line_or_is_locked_to_it_stays(locked):
    locks = {"k": Lock("talker.can", "be on line", "full")} if locked else None
    movers = {move.component for move in searched(two_lines(locks=locks)).found}
    assert "gate" not in movers
    assert ("talker" in movers) is not locked


def test_a_port_that_does_not_suit_the_other_line_stays():
    base = two_lines()
    lines = base.lines.put("free", replace(base.lines["free"], bit_rate_bit_per_s=Known(250e3)))
    assert searched(replace(base, lines=lines)).found == ()


def test_a_move_that_only_shifts_the_trouble_is_not_offered():
    base = two_lines()
    busy = {f"b{at}": message(0x200 + at, 8e-3) for at in range(3)}
    base = vehicle(
        dict(base.components.items()), dict(base.lines.items()),
        {
            "talk": ("talker.can", dict(base.messages["talk"].messages.items())),
            "others": ("ear.can", {"e0": message(0x300, 8e-3)}),
            "busy": ("far.can", busy),
        },
    )  # fmt: skip
    found = searched(base)
    talker = next(move for move in found.found if move.component == "talker")
    assert not talker.offered
    assert ("line-load", "lines.free") in talker.breaks


def test_the_search_can_be_stopped_and_says_so():
    found = searched(two_lines(), told=lambda done, _all: done < 1)
    assert found.stopped
    assert not found.whole
    assert found.tried == 1


def test_what_is_late_already_may_not_become_later():
    base = two_lines()
    tight = {"e0": message(0x300, 8e-3), "late": message(0x700, 2e-3, 1.2e-3)}
    base = vehicle(
        dict(base.components.items()), dict(base.lines.items()),
        {
            "talk": ("talker.can", dict(base.messages["talk"].messages.items())),
            "others": ("far.can", tight),
        },
    )  # fmt: skip
    talker = next(move for move in searched(base).found if move.component == "talker")
    assert ("in-time", "messages.others.messages.late") in talker.breaks
