"""Load and check: `minibus` from cold, after one edit, and a synthetic vehicle of 500 components on 30 lines.

Peer for reading: `tomllib` alone on the same bytes, so that the ratio tells what positions, units and the model cost.
Run: .venv/bin/python benchmarks/load_and_check.py
"""

import statistics
import tempfile
import time
import tomllib
from dataclasses import replace
from pathlib import Path

from loomwright.app.check import check_project
from loomwright.app.project import open_project
from loomwright.app.questions import Answers
from loomwright.app.start import start_from_example
from loomwright.files import load, new_project
from loomwright.model.component import Component, Port
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.vehicle import Cable, Place, Run, Vehicle
from loomwright.terms.fact import Known


def timed(work, repeat=5):
    """Median seconds of some runs, and the last result."""
    seconds = []
    for _ in range(repeat):
        begin = time.perf_counter()
        result = work()
        seconds.append(time.perf_counter() - begin)
    return statistics.median(seconds), result


def synthetic(components: int, lines: int) -> Vehicle:
    """Long vehicle: one place per component on a ladder of runs, components dealt out to the lines in order."""
    places, runs = {}, {}
    for number in range(components):
        row, side = divmod(number, 2)
        places[f"p{number}"] = Place(0.3 * row, 0.5 if side else -0.5)
        if row:
            runs[f"along{number}"] = Run(f"p{number - 2}", f"p{number}", Known(0.35))
        if side:
            runs[f"across{number}"] = Run(f"p{number - 1}", f"p{number}", Known(1.1))
    per_line = components // lines
    made, files = {}, {}
    for number in range(components):
        first_or_last = number % per_line in (0, per_line - 1)
        port = Port(
            bit_rates_bit_per_s=Known((250e3,)),
            identifiers=Known("29 bit"),
            termination=Known("fixed" if first_or_last else "none"),
        )
        role = (
            "vehicle controller" if number % per_line == 0 else ("service plug" if number % per_line == 1 else "other")
        )
        made[f"c{number}"] = Component(role, f"p{number}", ports=Table({"can": port}))
    for line in range(lines):
        members = range(line * per_line, (line + 1) * per_line)
        files[f"line{line}"] = Line(
            bit_rate_bit_per_s=Known(250e3),
            identifiers=Known("29 bit"),
            cable="pair",
            controller=f"c{members[0]}.can",
            stations=tuple(Station(f"c{number}.can") for number in members),
        )
    return Vehicle(
        "synthetic", 0.3 * components / 2 + 1, 2.0, places=Table(places), runs=Table(runs),
        cables=Table({"pair": Cable(cross_section_m2=Known(0.5e-6))}), components=Table(made), lines=Table(files),
    )  # fmt: skip


def edited(vehicle: Vehicle) -> Vehicle:
    """The same vehicle with one own lead 1 cm longer."""
    name = next(iter(vehicle.components))
    component = vehicle.components[name]
    port = next(iter(component.ports))
    longer = replace(component.ports[port], pigtail_m=Known(0.01))
    return replace(
        vehicle, components=vehicle.components.put(name, replace(component, ports=component.ports.put(port, longer)))
    )


def report(title: str, folder: Path) -> None:
    """Print the figures of one project."""
    texts = [path.read_bytes() for path in folder.rglob("*.toml")]
    peer, _ = timed(lambda: [tomllib.loads(text.decode()) for text in texts])
    loading, loaded = timed(lambda: load(folder))
    assert not loaded.problems, loaded.problems[:3]

    def whole():
        return check_project(open_project(folder))

    whole()  # imports and compiled code are not what is measured
    full, checked = timed(whole, 3)
    project = open_project(folder)
    vehicle = project.vehicle
    answers = Answers()
    answers.findings(vehicle)
    changed = edited(vehicle)
    begin = time.perf_counter()
    answers.findings(changed)
    after_edit = time.perf_counter() - begin
    print(
        f"{title}: {len(vehicle.components)} components, {len(vehicle.lines)} lines, {len(checked.findings)} findings"
    )
    print(
        f"  load                     {loading * 1e3:8.1f} ms   ({loading / peer:.1f} x tomllib alone on the same bytes)"
    )
    print(f"  load and full check      {full * 1e3:8.1f} ms")
    print(f"  findings after one edit  {after_edit * 1e3:8.1f} ms")


def main() -> None:
    """Print all figures."""
    with tempfile.TemporaryDirectory() as scratch:
        minibus = Path(scratch) / "minibus"
        start_from_example(minibus, "minibus")
        report("minibus", minibus)
        large = Path(scratch) / "large"
        new_project(large, synthetic(500, 30))
        report("synthetic", large)


if __name__ == "__main__":
    main()
