"""Command: start a vehicle from four questions, or from a shipped example."""

import itertools
import tomllib
from importlib.resources import files as package_files
from pathlib import Path

from loomwright.files import new_project
from loomwright.files.write import copy_project
from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Axle, Cable, Place, Run, Vehicle
from loomwright.terms.fact import Assumed, Unknown

SLACK = 1.2
"""Cable per straight metre until somebody lays a string along the run; common practice."""

FIRST_PLACES = (("nose", 0.10), ("dash", 0.30), ("middle", 0.55), ("rear", 0.90))
"""Places of a vehicle just started, as shares of its length."""


def examples() -> tuple[str, ...]:
    """Names of the examples that are shipped."""
    root = package_files("loomwright") / "examples"
    return tuple(sorted(item.name for item in root.iterdir() if (item / "vehicle.toml").is_file()))


def example_titles() -> tuple[tuple[str, str], ...]:
    """Name of every shipped example with the name of its vehicle."""
    root = package_files("loomwright") / "examples"
    texts = ((name, (root / name / "vehicle.toml").read_text("utf-8")) for name in examples())
    return tuple((name, str(tomllib.loads(text).get("name", name))) for name, text in texts)


def start_from_example(folder: Path, example: str) -> None:
    """Copy a shipped example into a new folder; the shipped one is never edited in place."""
    copy_project(Path(str(package_files("loomwright") / "examples" / example)), folder)


def started(name: str, length_m: float, width_m: float, axles_m: tuple[float, ...]) -> Vehicle:
    """Build a vehicle with a few places, a controller, a service plug and one line: all to be moved and filled in."""
    places = {key: Place(round(length_m * share, 3), 0.0) for key, share in FIRST_PLACES}
    runs = {}
    for (start, _), (end, _) in itertools.pairwise(FIRST_PLACES):
        straight = places[end].x_m - places[start].x_m
        why = f"straight distance times {SLACK}; lay a string along the run"
        runs[f"{start}_{end}"] = Run(start, end, Assumed(round(straight * SLACK, 2), why))
    plug = Port(termination=Assumed("none", "a bare plug"))
    components = {
        "vehicle_controller": Component(
            "vehicle controller", "dash", "Vehicle controller", ports=Table({"can1": Port()})
        ),
        "service_plug": Component("service plug", "dash", "Service plug", ports=Table({"main": plug})),
    }
    line = Line(
        title="Main line",
        bit_rate_bit_per_s=Unknown("At which bit rate does the line run?"),
        cable="bus_pair",
        controller="vehicle_controller.can1",
        stations=(Station("vehicle_controller.can1"), Station("service_plug.main")),
    )
    return Vehicle(
        name,
        length_m,
        width_m,
        axles=tuple(Axle(x) for x in axles_m),
        places=Table(places),
        runs=Table(runs),
        cables=Table({"bus_pair": Cable("twisted pair")}),
        components=Table(components),
        lines=Table({"main": line}),
    )


def start(folder: Path, name: str, length_m: float, width_m: float, axles_m: tuple[float, ...]) -> None:
    """Write a new project. Raises ``RefusedWriteError`` when the folder holds something already."""
    new_project(folder, started(name, length_m, width_m, axles_m))
