"""Mistakes as data: how to make each on the sound vehicle, and the rules that must say broken, all others silent."""

from dataclasses import replace

from loomwright.model.component import Component
from loomwright.model.line import Station
from loomwright.model.table import Table
from loomwright.terms.fact import Known
from tests.judge.build import more_stations, port, with_cable, with_line, with_lock, with_port, with_run, with_station


def spare(vehicle, **facts):
    """One more component that is on no line yet."""
    box = Component("fan", "p5", ports=Table({"a": port(**facts)}))
    return replace(vehicle, components=vehicle.components.put("fan", box))


def flexible(vehicle, *data_rates):
    """The vehicle's line with FD frames and a data phase of 2 Mbit/s; the pump's data phase can run at the rates given."""
    for name in vehicle.components:
        able = data_rates if name == "pump" and data_rates else (1e6, 2e6)
        vehicle = with_port(vehicle, name, frames=Known("both"), data_bit_rates_bit_per_s=Known(able))
    return with_line(vehicle, frames="FD", data_bit_rate_bit_per_s=Known(2e6))


def long_trunk(vehicle, metres):
    return with_station(vehicle, 1, section_m=metres)


#: name -> (how to break the sound vehicle, the rules that must say broken)
BROKEN = {
    "a third termination, on": (
        lambda v: with_station(with_port(v, "pump", termination=Known("switchable")), 1, terminated=True),
        {"two-terminations", "line-resistance"},
    ),
    "one termination": (lambda v: with_station(v, 0, terminated=False), {"two-terminations", "line-resistance"}),
    "a fixed one mid-trunk": (
        lambda v: with_port(v, "pump", termination=Known("fixed")),
        {"two-terminations", "fixed-terminator-mid-trunk", "line-resistance"},
    ),
    "trunk runs on past a termination": (
        lambda v: with_line(
            with_port(v, "inverter", termination=Known("switchable")),
            stations=(
                *v.lines["one"].stations[:4],
                Station(terminator_ohm=Known(120.0), at="p3"),
                Station("inverter.a"),
            ),
        ),
        {"terminations-at-ends"},
    ),
    "a 60 ohm terminator": (
        lambda v: with_port(v, "inverter", termination_ohm=Known(60.0)),
        {"terminator-value", "line-resistance"},
    ),
    "rule set is silent": (lambda v: with_line(v, rule_set="ISO 11898-2"), {"rule-set-covers-rate"}),
    "branch too long": (lambda v: with_station(v, 3, branch_m=2.9), {"branch-length"}),
    "branch that cannot reach": (lambda v: with_station(v, 3, branch_m=0.5), {"branch-reaches"}),
    "trunk too long": (lambda v: long_trunk(v, 36.0), {"trunk-length"}),
    "joints too close": (lambda v: with_station(v, 2, section_m=0.04), {"station-spacing"}),
    "loudspeaker cable": (lambda v: with_cable(v, impedance_ohm=Known(96.0)), {"cable-impedance"}),
    "beside high voltage": (
        lambda v: with_run(v, "r1", high_voltage_clearance_m=Known(0.03)),
        {"high-voltage-clearance"},
    ),
    "no way": (lambda v: replace(v, runs=v.runs.put("r1", None)), {"way-exists"}),
    "a ring": (lambda v: more_stations(v, Station("vcu.a")), {"station-once"}),
    "another bit rate": (lambda v: with_port(v, "pump", bit_rates_bit_per_s=Known((125e3,))), {"bit-rate-match"}),
    "another data bit rate": (lambda v: flexible(v, 1e6), {"data-bit-rate-match"}),
    "another identifier width": (lambda v: with_port(v, "pump", identifiers=Known("11 bit")), {"identifier-match"}),
    "FD alone": (lambda v: with_port(v, "pump", frames=Known("FD")), {"frames-match"}),
    "another protocol": (lambda v: with_port(v, "pump", protocols=Known(("CANopen",))), {"protocol-match"}),
    "no controller named": (lambda v: with_line(v, controller=""), {"line-has-controller"}),
    "no plug": (
        lambda v: with_line(v, stations=(*v.lines["one"].stations[:2], *v.lines["one"].stations[3:])),
        {"service-plug", "port-on-a-line"},
    ),
    "a port forgotten": (spare, {"port-on-a-line"}),
    "a run shorter than straight": (lambda v: with_run(v, "r0", length_m=Known(0.9)), {"run-length"}),
    "nobody listens": (
        lambda v: replace(v, components=v.components.put("vcu", replace(v.components["vcu"], role="other"))),
        {"controller-reached"},
    ),
    "lock on a line": (lambda v: with_lock(v, port="pump.a", must="be at an end"), {"lock-kept"}),
    "lock to share": (
        lambda v: with_lock(v, port="pump.a", must="not share a line with", other="vcu.a"),
        {"lock-kept"},
    ),
    "lock to be through": (lambda v: with_lock(v, port="heater.a", must="be joined through"), {"lock-kept"}),
}
