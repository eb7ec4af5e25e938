"""The vehicle plan as pages show it, drawn once for every vehicle that is asked for."""

from dataclasses import dataclass

from loomwright.app.project import Project
from loomwright.app.questions import Answers
from loomwright.model.vehicle import Vehicle
from loomwright.show.plan import Sheet, plan_wires, sheet_for, vehicle_plan

PAGE_PX = 900.0
"""Width of a drawing on a page: narrower than on paper, so that its words stay readable beside the margin."""


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A question with the answers it draws on. Placing the labels of a crowded vehicle takes some 0.2 s."""

    answers: Answers

    def __call__(self, vehicle: Vehicle, emphasis: str) -> str:
        wired = {name: self.answers.topology(vehicle, name) for name in vehicle.lines}
        findings = self.answers.findings(vehicle)
        return vehicle_plan(vehicle, wired, findings, standalone=False, width=PAGE_PX, emphasis=emphasis, handles=True)


def plan(project: Project, emphasis: str = "") -> str:
    """The plan as SVG, with handles; ``emphasis`` names the line that stands out."""
    drawn: str = project.answers.ask(_Drawn(project.answers), project.vehicle, emphasis)
    return drawn


def wires(project: Project, vehicle: Vehicle, emphasis: str = "") -> str:
    """The lines of another vehicle, to be put into the plan that a page shows of this one."""
    wired = {name: project.answers.topology(vehicle, name) for name in vehicle.lines}
    return plan_wires(vehicle, wired, page_sheet(project.vehicle), emphasis=emphasis)


def page_sheet(vehicle: Vehicle) -> Sheet:
    """Where spots of the vehicle lie on the plan of a page."""
    return sheet_for(vehicle, PAGE_PX)


def spot_m(vehicle: Vehicle, x_px: float, y_px: float) -> tuple[float, float]:
    """A spot on the plan of a page, in metres behind the front and to the left."""
    sheet = page_sheet(vehicle)
    return (x_px - sheet.nose[0]) / sheet.scale, (y_px - sheet.nose[1]) / sheet.scale
