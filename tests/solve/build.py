"""Small vehicles for the tests of `solve`: places on a string, one component at each."""

from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable, Place, Run, Vehicle
from loomwright.terms.fact import Known

RATE = Known((500e3,))


def port(termination="none", ohm=120.0, node_ohm=1e12, lead_m=0.0):
    return Port(
        bit_rates_bit_per_s=RATE,
        identifiers=Known("29 bit"),
        termination=Known(termination),
        termination_ohm=Known(ohm),
        pigtail_m=Known(lead_m),
        node_resistance_ohm=Known(node_ohm),
    )


def string_vehicle(positions_m, ports, stations=None, cable=None, roles=None):
    """Places on a straight string at the given metres, a run between neighbours, a component `c<i>` at each."""
    places = Table({f"p{i}": Place(x, 0.0) for i, x in enumerate(positions_m)})
    runs = Table(
        {
            f"r{i}": Run(f"p{i}", f"p{i + 1}", Known(positions_m[i + 1] - positions_m[i]))
            for i in range(len(positions_m) - 1)
        }
    )
    roles = roles or {}
    components = Table(
        {f"c{i}": Component(roles.get(i, "other"), f"p{i}", ports=Table({"can": p})) for i, p in enumerate(ports)}
    )
    stations = stations if stations is not None else tuple(Station(f"c{i}.can") for i in range(len(ports)))
    line = Line(
        bit_rate_bit_per_s=Known(500e3),
        identifiers=Known("29 bit"),
        cable="pair",
        controller="c0.can",
        stations=stations,
    )
    pair = cable or Cable(conductor_resistance_ohm_per_m=Known(0.0))
    return Vehicle(
        "string", max(positions_m) + 1.0, 2.0, places=places, runs=runs, cables=Table({"pair": pair}),
        components=components, lines=Table({"one": line}),
    )  # fmt: skip
