"""A small talkative vehicle on two lines with a gateway between, and ways to bend it."""

from dataclasses import replace

from loomwright.model.component import Component, Forward, Need, Port
from loomwright.model.line import Line, Station
from loomwright.model.message import Message, MessageSet, Signal
from loomwright.model.speech import speech_of
from loomwright.model.table import Table
from loomwright.model.vehicle import Chain, Place, Vehicle
from loomwright.solve.traffic import traffic
from loomwright.terms.fact import Known

MS = 1e-3


def port(**facts):
    return Port(**{"bit_rates_bit_per_s": Known((500e3,)), "identifiers": Known("11 bit"), **facts})


def message(identifier, period_ms=10.0, **other):
    values = {
        "identifier": Known(identifier),
        "period_s": None if period_ms is None else Known(period_ms * MS),
        "jitter_s": Known(0.0),
        "signals": Table({"value": Signal(0, 16)}),
    }
    return Message(**{**values, **other})


def spoken(**parts):
    """Pedal and controller on line fast, display on line slow; the controller passes the pedal on."""
    values = {
        "components": Table(
            {
                "pedal": Component("pedal", "p", ports=Table({"can": port()})),
                "vcu": Component(
                    "vehicle controller",
                    "p",
                    ports=Table({"a": port(), "b": port()}),
                    needs=Table(
                        {"travel": Need("pedal.travel.value", fresh_s=Known(50 * MS), time_out_s=Known(50 * MS))}
                    ),
                    forwards=Table({"travel": Forward("pedal.travel", "b", delay_s=Known(5 * MS))}),
                    cycle_s=Known(10 * MS),
                ),
                "inverter": Component(
                    "inverter", "p", ports=Table({"can": port()}), needs=Table({"torque": Need("vcu.torque.value")})
                ),
                "display": Component(
                    "display", "p", ports=Table({"can": port()}), needs=Table({"travel": Need("pedal.travel")})
                ),
            }
        ),
        "lines": Table(
            {
                "fast": line(500e3, "pedal.can", "vcu.a", "inverter.can"),
                "slow": line(125e3, "vcu.b", "display.can"),
            }
        ),
        "places": Table({"p": Place(1.0, 0.0), "q": Place(2.0, 0.0)}),
        "messages": Table(
            {
                "pedal": MessageSet(sender="pedal.can", messages=Table({"travel": message(0x100)})),
                "vcu": MessageSet(sender="vcu.a", messages=Table({"torque": message(0x200)})),
            }
        ),
        "chains": Table({"torque": Chain(("pedal.travel", "vcu.torque"), "inverter", within_s=Known(100 * MS))}),
    }
    return Vehicle("talk", 4.0, 2.0, **{**values, **parts})


def line(rate, *ports, **other):
    stations = tuple(Station(each) for each in ports)
    return Line(**{"bit_rate_bit_per_s": Known(rate), "identifiers": Known("11 bit"), "stations": stations, **other})


def saying(vehicle, set_name, **messages):
    """The vehicle with messages put into a set (``None`` takes one out)."""
    one = vehicle.messages[set_name]
    inside = one.messages
    for name, each in messages.items():
        inside = inside.put(name, each)
    return replace(vehicle, messages=vehicle.messages.put(set_name, replace(one, messages=inside)))


def with_component(vehicle, name, **fields):
    return replace(vehicle, components=vehicle.components.put(name, replace(vehicle.components[name], **fields)))


def with_line(vehicle, name, **fields):
    return replace(vehicle, lines=vehicle.lines.put(name, replace(vehicle.lines[name], **fields)))


def answers(vehicle):
    return traffic(speech_of(vehicle))
