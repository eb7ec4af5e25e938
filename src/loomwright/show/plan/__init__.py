"""The vehicle plan: seen from above, to scale, with places, runs, components and lines."""

from loomwright.show.plan.draw import vehicle_plan

__all__ = ["vehicle_plan"]
