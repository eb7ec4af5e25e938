"""The shipped truck as the planner would wire it."""

from dataclasses import replace

from loomwright.model.table import Table


def without_coils(vehicle):
    """The vehicle as drawn, but for two leads that are kept longer than their way so that boxes come out for service."""
    coils = [station for station in vehicle.lines["drive"].stations if station.branch_m is not None]
    assert {station.port for station in coils} == {"charger.can", "dcdc.can"}
    stations = tuple(replace(station, branch_m=None) for station in vehicle.lines["drive"].stations)
    return replace(vehicle, lines=Table({**vehicle.lines, "drive": replace(vehicle.lines["drive"], stations=stations)}))
