"""Small vehicles that speak, for the tests of proposals out of traffic: components in a row, lines, messages."""

from itertools import pairwise

from loomwright.app.questions import Answers
from loomwright.model.component import Component, Need, Port
from loomwright.model.line import Line, Station
from loomwright.model.message import Message, MessageSet
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable, Place, Run, Vehicle
from loomwright.propose.traffic_judged import Judged
from loomwright.terms.fact import Known

RATE = 125e3


def port(*rates, protocol="raw", width="11 bit", **more):
    facts = {
        "protocols": Known((protocol,)),
        "bit_rates_bit_per_s": Known(rates or (RATE,)),
        "identifiers": Known(width),
        "termination": Known("none"),
        "pigtail_m": Known(0.1),
    }
    return Port(**{**facts, **more})


def message(identifier, period_s, deadline_s=None, *, length=8, jitter_s=0.0, **more):
    return Message(
        identifier=Known(identifier),
        period_s=Known(period_s),
        deadline_s=None if deadline_s is None else Known(deadline_s),
        jitter_s=Known(jitter_s),
        length=length,
        **more,
    )


def component(place, role="other", needs=(), forwards=None, **ports):
    wanted = {f"n{number}": Need(name) for number, name in enumerate(needs)}
    return Component(role, place, ports=Table(ports), needs=Table(wanted), forwards=Table(forwards or {}))


def line(*ports, rate=RATE, places=("a", "f"), **more):
    """The ports in order, and a plug-in terminator at each end."""
    ends = [Station(terminator_ohm=Known(120.0), at=place) for place in places]
    facts = {"bit_rate_bit_per_s": Known(rate), "identifiers": Known("11 bit"), "cable": "pair", **more}
    return Line(stations=(ends[0], *(Station(one) for one in ports), ends[1]), **facts)


def vehicle(components, lines, messages, states=(), locks=None):
    """``messages``: {set: (sender port, {name: message})}. Places a to f in a row, a metre apart."""
    places = "abcdef"
    return Vehicle(
        "speaking", 6.0, 2.0,
        states=tuple(states),
        places=Table({name: Place(0.5 + number, 0.0) for number, name in enumerate(places)}),
        runs=Table({f"{a}{b}": Run(a, b, Known(1.0)) for a, b in pairwise(places)}),
        cables=Table({"pair": Cable()}),
        locks=Table(locks or {}),
        components=Table(components),
        lines=Table(lines),
        messages=Table(
            {name: MessageSet(sender=sender, messages=Table(own)) for name, (sender, own) in messages.items()}
        ),
    )  # fmt: skip


def asker():
    answers = Answers()
    return lambda tried: Judged(answers.traffic(tried), answers.findings(tried))


def late(judged, name):
    """Messages of a line that miss their deadline."""
    return {each.stream.message for each in judged.traffic.responses[name].value.responses if each.slack_s < 0.0}
