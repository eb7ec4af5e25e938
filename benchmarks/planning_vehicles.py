"""Made-up vehicles for the planning benchmark, the same for the same seed."""

import random

from loomwright.model.component import Component, Port
from loomwright.model.line import Line
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable, Place, Run, Vehicle
from loomwright.terms.fact import Known

RATES = (250e3, 500e3, 250e3, 500e3, 125e3)
LENGTH_M, HALF_WIDTH_M = 5.0, 0.9


def made_up_vehicle(components: int, lines: int, places: int, seed: int) -> Vehicle:
    """A body of 5 m by 1.8 m with ``places``; runs are a shortest tree plus the shortest other pairs, 1.4 a place.

    Every line has a port of the vehicle controller for its master, a port of the service plug, and one component with
    a fixed termination. Half of the other components can run at any rate, the rest at that of some lines.
    """
    dice = random.Random(seed)
    names = [f"p{number:02}" for number in range(places)]
    spots = [
        (dice.uniform(0.0, LENGTH_M), dice.uniform(-HALF_WIDTH_M, HALF_WIDTH_M), dice.uniform(0.3, 1.2)) for _ in names
    ]
    rates = RATES[:lines]
    homes = [dice.choice(names) for _ in range(components)]
    parts = {
        "vehicle_controller": _part("vehicle controller", homes[0], [_port((rate,), "switchable") for rate in rates]),
        "service_plug": _part("service plug", homes[1], [_port(tuple(set(rates)), "none") for _ in rates]),
    }
    for number in range(2, components):
        if number - 2 < lines:
            port = _port((rates[number - 2],), "fixed")
        elif dice.random() < 0.5:
            port = _port(tuple(set(rates)), dice.choice(["none", "none", "none", "switchable"]))
        else:
            some = tuple(set(dice.sample(rates, max(1, lines // 2))))
            port = _port(some, dice.choice(["none", "none", "none", "switchable"]), lead_m=dice.choice([0.0, 0.2]))
        parts[f"part_{number:02}"] = _part("other", homes[number], [port])
    return Vehicle(
        f"{components} components", LENGTH_M, 2.0 * HALF_WIDTH_M, rule_set="CiA 303-1",
        places=Table({name: Place(*spot) for name, spot in zip(names, spots, strict=True)}),
        runs=_runs(names, spots),
        cables=Table({"pair": Cable()}),
        components=Table(parts),
        lines=Table(
            {
                f"line_{number}": Line(
                    protocol="J1939" if rate == 250e3 else "raw",
                    bit_rate_bit_per_s=Known(rate),
                    identifiers=Known("29 bit"),
                    cable="pair",
                    rule_set="SAE J1939-15" if rate == 250e3 else "",
                    controller=f"vehicle_controller.can{number}",
                )
                for number, rate in enumerate(rates)
            }
        ),
    )  # fmt: skip


def _port(rates: tuple[float, ...], termination: str, lead_m: float = 0.0) -> Port:
    return Port(
        protocols=Known(("J1939", "raw")),
        bit_rates_bit_per_s=Known(rates),
        identifiers=Known("29 bit"),
        termination=Known(termination),
        pigtail_m=Known(lead_m),
    )


def _part(role: str, place: str, ports: list[Port]) -> Component:
    return Component(role, place, ports=Table({f"can{number}": port for number, port in enumerate(ports)}))


def _runs(names: list[str], spots: list[tuple[float, float, float]]) -> Table[Run]:
    """Cable lies along the axes and takes a tenth more than that, in whole centimetres."""

    def length_m(a: int, b: int) -> float:
        return round(1.1 * sum(abs(one - other) for one, other in zip(spots[a], spots[b], strict=True)) + 0.01, 2)

    joined, pairs = {0}, set()
    while len(joined) < len(names):
        _, a, b = min((length_m(a, b), a, b) for a in joined for b in range(len(names)) if b not in joined)
        joined.add(b)
        pairs.add((min(a, b), max(a, b)))
    others = sorted(
        (length_m(a, b), a, b) for a in range(len(names)) for b in range(a + 1, len(names)) if (a, b) not in pairs
    )
    pairs |= {(a, b) for _, a, b in others[: round(0.4 * len(names))]}
    return Table({f"{names[a]}_{names[b]}": Run(names[a], names[b], Known(length_m(a, b))) for a, b in pairs})
