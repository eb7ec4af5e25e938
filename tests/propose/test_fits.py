"""Which lines a port can be on, and what open facts do."""

from dataclasses import replace

import pytest

from loomwright.propose import LineLimits, arrange, limits_for
from loomwright.propose.fits import fit
from loomwright.terms.fact import Assumed, Known, Unknown
from tests.propose.build import FAST, SLOW, component, line, port, string, vehicle


def verdict(own=None, other=None, role="other"):
    return fit("c", component("a", role, can=own or port()), "can", "one", other or line())


def test_a_port_that_agrees_in_everything_fits():
    assert verdict().sure


@pytest.mark.parametrize(
    ("own", "other", "against"),
    [
        (port(FAST), line(), "bit rate"),
        (port(protocols=Known(("CANopen",))), line(protocol="J1939"), "protocol"),
        (port(identifiers=Known("11 bit")), line(), "identifiers"),
        (port(), line(frames="FD"), "frames"),
        (port(frames=Known("FD")), line(), "frames"),
        (
            port(frames=Known("both"), data_bit_rates_bit_per_s=Known((2e6,))),
            line(frames="FD", data_bit_rate_bit_per_s=Known(5e6)),
            "data bit rate",
        ),
    ],
)
def test_a_fact_that_forbids_is_named(own, other, against):
    assert verdict(own, other).against == (against,)


@pytest.mark.parametrize(
    ("own", "other"),
    [
        (port(SLOW, FAST), line(FAST)),
        (port(identifiers=Known("both")), line()),
        (port(identifiers=Known("11 bit")), line(identifiers=Known("both"))),
        (port(frames=Known("both")), line(frames="FD")),
        (
            port(frames=Known("both"), data_bit_rates_bit_per_s=Known((2e6, 5e6))),
            line(frames="FD", data_bit_rate_bit_per_s=Known(5e6)),
        ),
        (port(protocols=Assumed(("raw", "J1939"), "from a similar one")), line(protocol="J1939")),
    ],
)
def test_what_a_port_can_do_among_other_things_fits(own, other):
    assert verdict(own, other).sure


@pytest.mark.parametrize("field", ["bit_rates_bit_per_s", "identifiers", "frames", "protocols"])
def test_an_unknown_fact_of_the_port_is_named_by_its_path(field):
    found = verdict(replace(port(), **{field: Unknown()}))
    assert found.unknown == (("components", "c", "ports", "can", field),)
    assert not found.sure
    assert not found.against


def test_open_data_bit_rates_are_asked_for_on_an_fd_line_alone():
    own = port(frames=Known("both"), data_bit_rates_bit_per_s=Unknown())
    assert verdict(own).sure
    found = verdict(own, line(frames="FD"))
    assert found.unknown == (("components", "c", "ports", "can", "data_bit_rates_bit_per_s"),)


@pytest.mark.parametrize("field", ["bit_rate_bit_per_s", "identifiers"])
def test_an_unknown_fact_of_the_line_is_named_by_its_path(field):
    assert verdict(other=replace(line(), **{field: Unknown()})).unknown == (("lines", "one", field),)


def test_a_service_plug_of_unknown_rates_fits_any_line_and_another_port_does_not():
    open_port = port(bit_rates_bit_per_s=Unknown())
    assert verdict(open_port, line(FAST, protocol="J1939"), role="service plug").sure
    assert not verdict(open_port, line(FAST, protocol="J1939")).sure


def two_rates(**ports):
    parts = {"a": component("a", can=port()), "b": component("b", can=port()), "c": component("c", **ports)}
    return vehicle(string(3), parts, {"slow": line(SLOW, "a.can"), "fast": line(FAST)})


def test_a_port_of_unknown_rate_is_left_out_even_where_one_line_alone_is_possible():
    plan = arrange(two_rates(can=port(bit_rates_bit_per_s=Unknown())))
    assert [left.port for left in plan.unplaced] == ["c.can"]
    assert plan.unplaced[0].blocked_by == (("components", "c", "ports", "can", "bit_rates_bit_per_s"),)
    assert plan.broken_count == plan.fewest_broken == plan.weights.unplaced


def test_a_port_that_no_line_suits_is_left_out_with_what_speaks_against_each():
    plan = arrange(two_rates(can=port(1e6, identifiers=Known("11 bit"))))
    assert plan.unplaced[0].against == (("fast", ("bit rate", "identifiers")), ("slow", ("bit rate", "identifiers")))
    assert plan.unplaced[0].blocked_by == ()


def test_a_port_that_is_not_needed_stays_free():
    plan = arrange(two_rates(can=port(needed=False)))
    assert plan.unplaced == ()
    assert "c.can" not in {station.port for edit in plan.change.edits for station in edit.value}


def test_the_master_of_a_line_is_on_it_though_its_rates_are_unknown():
    parts = {"a": component("a", can=port(bit_rates_bit_per_s=Unknown())), "b": component("b", can=port())}
    plan = arrange(vehicle(string(2), parts, {"one": line(SLOW, "a.can")}))
    assert plan.broken_count == 0
    assert ("components", "a", "ports", "can", "bit_rates_bit_per_s") in plan.left_aside


def test_limits_come_from_the_rule_set_of_the_line_or_the_vehicle():
    base = replace(two_rates(can=port()), rule_set="SAE J1939-11")
    assert limits_for(line(SLOW), base) == LineLimits(branch_m=1.0, trunk_m=40.0, nodes=30, load=0.5)
    assert limits_for(line(SLOW, rule_set="SAE J1939-15"), base) == LineLimits(
        branch_m=3.0, trunk_m=40.0, trunk_counts_branches=True, load=0.5
    )
    assert limits_for(line(FAST, rule_set="CiA 303-1"), base) == LineLimits(5.5, 27.5, 100.0, load=0.5)
    assert limits_for(line(bit_rate_bit_per_s=Unknown()), base) == LineLimits()
    assert limits_for(line(rule_set="no such set"), base) == LineLimits(load=0.5)
