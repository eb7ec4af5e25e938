"""An invented vehicle of 24 components and three lines, crowded at the dash; names are awkward on purpose."""

import xml.etree.ElementTree as ET
from collections.abc import Iterator

from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Axle, Cable, Place, Run, Vehicle
from loomwright.solve.ohms import line_ohms
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways, straight_m
from loomwright.terms.fact import Known

SVG = "{http://www.w3.org/2000/svg}"
RATE = Known(250e3)

SPOTS = {
    "nose": (0.3, 0.0),
    "left_lamp": (0.35, 0.6),
    "right_lamp": (0.35, -0.6),
    "dash_left": (1.0, 0.45),
    "dash": (1.0, 0.2),
    "dash_right": (1.0, -0.4),
    "floor": (1.5, 0.0),
    "rail_1": (2.0, 0.35),
    "rail_2": (2.8, 0.35),
    "rail_3": (3.6, 0.35),
    "tray": (2.4, -0.5),
    "rear": (4.4, 0.0),
}
RUNS = (
    ("nose", "left_lamp"),
    ("nose", "right_lamp"),
    ("nose", "dash"),
    ("dash", "dash_left"),
    ("dash", "dash_right"),
    ("dash", "floor"),
    ("floor", "rail_1"),
    ("rail_1", "rail_2"),
    ("rail_2", "rail_3"),
    ("rail_1", "tray"),
    ("rail_3", "rear"),
)
AT = {
    "vehicle_controller": "dash",
    "display": "dash",
    "cluster": "dash_left",
    "pedal": "dash_left",
    "selector": "dash",
    "panel": "dash_right",
    "telematics": "dash_right",
    "socket": "dash_left",
    "fan": "nose",
    "pump_drive": "nose",
    "lamps_left": "left_lamp",
    "lamps_right": "right_lamp",
    "horn": "right_lamp",
    "steering": "floor",
    "inverter": "rail_1",
    "junction": "tray",
    "converter": "tray",
    "charger": "tray",
    "manager": "rail_2",
    "monitor": "rail_2",
    "pump_pack": "rail_2",
    "heater": "rail_1",
    "hydraulics": "rail_3",
    "lamps_rear": "rear",
}


def port(termination="none"):
    return Port(
        bit_rates_bit_per_s=Known((250e3, 500e3)),
        identifiers=Known("29 bit"),
        termination=Known(termination),
        pigtail_m=Known(0.15),
    )


def places():
    return Table({name: Place(x, y, 0.8) for name, (x, y) in SPOTS.items()})


def runs(spots):
    return Table({f"{a}_{b}": Run(a, b, Known(round(1.1 * straight_m(spots[a], spots[b]) + 0.05, 2))) for a, b in RUNS})


def line(title, *stations, terminated=()):
    stops = tuple(
        Station(port=f"{name}.can", at=at, terminated=name in terminated)
        for name, _, at in (item.partition("@") for item in stations)
    )
    return Line(
        title, "J1939", RATE, Known("29 bit"), cable="pair", controller="vehicle_controller.can", stations=stops
    )


def vehicle():
    spots = places()
    components = Table(
        {
            name: Component(
                "service plug" if name == "socket" else "other",
                place,
                'Pump <drive> & "loop"' if name == "pump_drive" else "",
                ports=Table({"can": port("switchable")}),
            )
            for name, place in AT.items()
        }
    )
    lines = {
        "drive": line(
            "Drive line", "pedal", "selector", "vehicle_controller", "steering", "inverter", "manager", "hydraulics",
            terminated=("pedal", "hydraulics"),
        ),
        "body": line(
            "Body & <cab> line", "cluster", "display", "panel@dash", "telematics@dash", "heater", "pump_pack", "lamps_rear",
            terminated=("cluster", "lamps_rear"),
        ),
        "charge": line(
            "Charging line", "fan", "lamps_left@nose", "socket@dash", "junction", "converter", "charger",
            terminated=("fan", "charger"),
        ),
    }  # fmt: skip
    return Vehicle(
        "Test & <trial> van",
        4.7,
        1.75,
        (Axle(0.9, 1.45), Axle(3.7, 1.45)),
        places=spots,
        runs=runs(spots),
        cables=Table({"pair": Cable("pair", Known(0.5e-6), Known(0.037))}),
        components=components,
        lines=Table(lines),
    )


def wired(of):
    net = run_ways(of.places, of.runs)
    return {name: line_topology(name, item, of.components, net) for name, item in of.lines.items()}


def ohms(of, name, topology):
    return line_ohms(of.lines[name], of.components, of.cables["pair"], topology)


def parsed(svg):
    return ET.fromstring(svg)  # our own output


def shapes(root, path=None) -> Iterator[ET.Element]:
    """Elements that carry a path, or this one."""
    for element in root.iter():
        found = element.get("data-path")
        if found is not None and (path is None or found == path):
            yield element
