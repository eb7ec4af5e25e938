"""Present lines that are as good as the best plan stay, and what is told beside them is told from them."""

from pathlib import Path

import pytest

import loomwright
from loomwright.files import load
from loomwright.model.variant import changed
from loomwright.propose import arrange
from tests.coils import without_coils

EXAMPLES = Path(loomwright.__file__).parent / "examples"


@pytest.mark.parametrize("example", ["bench", "tipper"])
def test_lines_that_are_optimal_stay_as_they_are(example):
    vehicle = load(EXAMPLES / example).vehicle
    vehicle = without_coils(vehicle) if example == "tipper" else vehicle
    plan = arrange(vehicle, seconds=30.0)
    assert changed(vehicle, plan.change) == vehicle
    assert plan.status == "proved optimal"


def test_the_second_best_plan_is_told_from_the_lines_that_stay():
    vehicle = without_coils(load(EXAMPLES / "tipper").vehicle)
    plan = arrange(vehicle, seconds=30.0, second_best=True)
    on_line = {station.port: name for name, line in vehicle.lines.items() for station in line.stations if station.port}
    assert plan.second_best.differs
    assert plan.second_best.score_m >= plan.score_m - 0.001
    for item in plan.second_best.differs:
        if item.what == "line":
            assert item.here == (on_line[item.name],)
