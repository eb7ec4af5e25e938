"""Command: write the drawings of a project as SVG files."""

from pathlib import Path

from loomwright.app.project import Project
from loomwright.app.signal import signals
from loomwright.files.write import write_file
from loomwright.show.plan import vehicle_plan
from loomwright.show.ruler import line_ruler
from loomwright.show.signal_strips import signal_strips
from loomwright.show.tokens import hue
from loomwright.terms.answer import Solved


def drawings(project: Project, *, signal: bool = False) -> dict[str, str]:
    """Every drawing of the project, file name to SVG text; with ``signal`` rulers have strips of margin and level."""
    physics = {one.name: one for one in signals(project)} if signal else {}
    vehicle, answers = project.vehicle, project.answers
    findings = answers.findings(vehicle)
    wired = {name: answers.topology(vehicle, name) for name in vehicle.lines}
    made = {"vehicle-plan.svg": vehicle_plan(vehicle, wired, findings)}
    for number, (name, line) in enumerate(vehicle.lines.items()):
        topology, ohms = wired[name], answers.ohms(vehicle, name)
        if isinstance(topology, Solved):
            readings = ohms.value if isinstance(ohms, Solved) else None
            of_line = tuple(finding for finding in findings if finding.reading.line == name)
            one = physics.get(name)
            strips = signal_strips(topology.value, one.signal, one.levels) if one else ()
            made[f"line-{name}.svg"] = line_ruler(
                name, line, topology.value, readings, vehicle.components, of_line, strips, hue=hue(number)[0]
            )
    return made


def draw(project: Project, target: Path, *, signal: bool = False) -> tuple[Path, ...]:
    """Write every drawing into a folder, made if it is not there. Returns the files in order."""
    target.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in drawings(project, signal=signal).items():
        write_file(target / name, text.encode("utf-8"))
        written.append(target / name)
    return tuple(written)
