"""The vehicle plan: seen from above, to scale, with places, runs, components and lines."""

from loomwright.show.plan.draw import vehicle_plan
from loomwright.show.plan.sheet import Sheet, sheet_for
from loomwright.show.plan.wires import plan_wires

__all__ = ["Sheet", "plan_wires", "sheet_for", "vehicle_plan"]
