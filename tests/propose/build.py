"""Small vehicles for the tests of `propose`: places, runs in centimetres, components with one or two ports."""

import itertools
import random

from loomwright.model.component import Component, Port
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import LOCK_KINDS, Cable, Lock, Place, Run, Vehicle
from loomwright.terms.fact import Known, Unknown

SLOW, FAST = 250e3, 500e3


def port(*rates, termination="none", lead_m=0.0, **more):
    facts = {
        "protocols": Known(("raw",)),
        "bit_rates_bit_per_s": Known(rates or (SLOW,)),
        "identifiers": Known("29 bit"),
        "termination": termination if isinstance(termination, Unknown) else Known(termination),
        "pigtail_m": Known(lead_m),
        **more,
    }
    return Port(**facts)


def line(rate=SLOW, controller="", stations=(), **more):
    facts = {"bit_rate_bit_per_s": Known(rate), "identifiers": Known("29 bit"), "cable": "pair", **more}
    return Line(controller=controller, stations=stations, **facts)


def component(place, role="other", **ports):
    return Component(role, place, ports=Table(ports))


def vehicle(runs, components, lines, locks=None, places=()):
    """``runs`` are (place, place, metres or None); places are named by them and by the components."""
    names = {name for run in runs for name in run[:2]} | {one.place for one in components.values()} | set(places)
    return Vehicle(
        "test", 5.0, 2.0,
        places=Table({name: Place(0.1 * number, 0.0) for number, name in enumerate(sorted(names))}),
        runs=Table(
            {f"{a}_{b}": Run(a, b, Unknown() if length is None else Known(length)) for a, b, length in runs}
        ),
        cables=Table({"pair": Cable()}),
        locks=Table({name: Lock(*lock) if isinstance(lock, tuple) else lock for name, lock in (locks or {}).items()}),
        components=Table(components),
        lines=Table(lines),
    )  # fmt: skip


def string(count, length_m=1.0):
    """Runs of one string of places a, b, c..."""
    names = "abcdefghijklmnopqrstuvwxyz"[:count]
    return [(a, b, length_m) for a, b in itertools.pairwise(names)]


def random_vehicle(seed, places=6, count=4, lines=2, locks=0):
    """A connected random vehicle: a tree of runs with two more, ports of mixed rates and terminations.

    Sometimes a component has two ports, a line its master, and the vehicle a service plug.
    """
    dice = random.Random(seed)
    names = [f"p{number}" for number in range(places)]
    pairs = {(dice.randrange(number), number) for number in range(1, places)}
    while len(pairs) < places + 1:
        pairs.add(tuple(sorted(dice.sample(range(places), 2))))
    runs = [(names[a], names[b], dice.randint(2, 30) / 10.0) for a, b in sorted(pairs)]
    rates = [SLOW, FAST][:lines]
    components, addresses = {}, []
    while len(addresses) < count:
        ports = {}
        for name in ("can", "second")[: dice.choice([1, 1, 1, 2])]:
            speeds = dice.choice([(rate,) for rate in rates] + [tuple(rates)] * 2)
            kind = dice.choice(["none", "none", "switchable", "fixed"])
            ports[name] = port(*speeds, termination=kind, lead_m=dice.choice([0.0, 0.0, 0.2, 0.5]))
            addresses.append(f"c{len(components)}.{name}")
        role = dice.choice(["other", "other", "other", "service plug"])
        components[f"c{len(components)}"] = component(dice.choice(names), role, **ports)
    masters = dice.choice([[], dice.sample(addresses, lines)])
    made = {}
    for number in range(locks):
        first, other = dice.sample(addresses, 2)
        must = dice.choice(LOCK_KINDS)
        made[f"k{number}"] = Lock(first, must, "l0" if must == "be on line" else "", other if "share" in must else "")
    return vehicle(
        runs,
        components,
        {f"l{n}": line(rate, masters[n] if masters else "") for n, rate in enumerate(rates)},
        made,
    )
