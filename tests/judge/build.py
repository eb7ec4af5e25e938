"""A small sound vehicle, and ways to break it: each case is a change and the rules that must notice."""

from dataclasses import replace

from loomwright.app.questions import Answers
from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable, Lock, Place, Run, Vehicle
from loomwright.terms.fact import Known, Unknown
from loomwright.terms.finding import Verdict, Weight


def port(**facts):
    values = {
        "protocols": Known(("J1939",)),
        "bit_rates_bit_per_s": Known((250e3, 500e3)),
        "identifiers": Known("29 bit"),
        "frames": Known("classical"),
        "termination": Known("none"),
        "pigtail_m": Known(0.2),
    }
    return Port(**{**values, **facts})


def sound() -> Vehicle:
    """Five places in a row, a controller and an inverter at the ends, a pump and a plug between, a gateway beyond."""
    places = Table({f"p{i}": Place(0.5 + 1.0 * i, 0.0) for i in range(6)})
    runs = Table({f"r{i}": Run(f"p{i}", f"p{i + 1}", Known(1.2), Known(0.5)) for i in range(5)})
    components = Table(
        {
            "vcu": Component("vehicle controller", "p0", ports=Table({"a": port(termination=Known("switchable"))})),
            "pump": Component("coolant pump", "p1", ports=Table({"a": port()})),
            "plug": Component("service plug", "p2", ports=Table({"a": port(bit_rates_bit_per_s=Unknown())})),
            "heater": Component("heater", "p2", ports=Table({"a": port()})),
            "inverter": Component("inverter", "p4", ports=Table({"a": port(termination=Known("fixed"))})),
        }
    )
    line = Line(
        protocol="J1939",
        bit_rate_bit_per_s=Known(250e3),
        identifiers=Known("29 bit"),
        cable="pair",
        rule_set="SAE J1939-15",
        controller="vcu.a",
        stations=(
            Station("vcu.a", terminated=True),
            Station("pump.a"),
            Station("plug.a"),
            Station("heater.a", at="p3"),
            Station("inverter.a"),
        ),
    )
    cable = Cable(
        cross_section_m2=Known(0.5e-6), conductor_resistance_ohm_per_m=Known(0.037), impedance_ohm=Known(120.0)
    )
    return Vehicle(
        "sound", 6.5, 2.0, places=places, runs=runs, cables=Table({"pair": cable}), components=components,
        lines=Table({"one": line}),
    )  # fmt: skip


def with_line(vehicle, **values):
    return replace(vehicle, lines=vehicle.lines.put("one", replace(vehicle.lines["one"], **values)))


def with_station(vehicle, index, **values):
    stations = vehicle.lines["one"].stations
    return with_line(vehicle, stations=(*stations[:index], replace(stations[index], **values), *stations[index + 1 :]))


def with_port(vehicle, component, **facts):
    old = vehicle.components[component]
    new = replace(old, ports=old.ports.put("a", replace(old.ports["a"], **facts)))
    return replace(vehicle, components=vehicle.components.put(component, new))


def with_run(vehicle, name, **values):
    return replace(vehicle, runs=vehicle.runs.put(name, replace(vehicle.runs[name], **values)))


def with_cable(vehicle, **values):
    return replace(vehicle, cables=vehicle.cables.put("pair", replace(vehicle.cables["pair"], **values)))


def with_lock(vehicle, **values):
    return replace(vehicle, locks=Table({"lock": Lock(**values)}))


def more_stations(vehicle, *stations):
    return with_line(vehicle, stations=(*vehicle.lines["one"].stations, *stations))


def findings(vehicle):
    return Answers().findings(vehicle)


def verdicts(vehicle, verdict=Verdict.BROKEN):
    """Rules that govern with that verdict."""
    return {
        item.rule for item in findings(vehicle) if item.verdict is verdict and item.reading.weight is Weight.GOVERNS
    }
