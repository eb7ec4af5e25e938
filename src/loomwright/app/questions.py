"""Questions with remembered answers.

A question is a pure function of exactly the values it is handed, and the values are frozen and equal when their
content is equal. So a dictionary keyed by function and arguments is enough, and nothing is ever invalidated: a comment
or a moved section re-runs nothing, a changed value re-runs what uses it.
"""

from collections import OrderedDict
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

from loomwright.app.deviations import marked
from loomwright.judge import judge_line, judge_traffic, judge_vehicle
from loomwright.judge.evidence import (
    LineEvidence,
    TrafficEvidence,
    VehicleEvidence,
    cable_of,
    components_on,
    evidence_of,
)
from loomwright.model.speech import Speech, speech_of
from loomwright.model.vehicle import Vehicle
from loomwright.solve.ohms import LineOhms, line_ohms
from loomwright.solve.reach import reach
from loomwright.solve.topology import LineTopology, line_topology
from loomwright.solve.traffic import Traffic, traffic
from loomwright.solve.ways import RunWays, run_ways
from loomwright.terms.answer import Answer, Blocked
from loomwright.terms.change import Path
from loomwright.terms.finding import Finding

P = ParamSpec("P")
R = TypeVar("R")

KEPT = 4096
"""Answers kept; the least recently asked go first, so that a long session's memory stays flat."""


def _judge_traffic(speech: Speech, answers: Traffic) -> tuple[Finding, ...]:
    return judge_traffic(TrafficEvidence(speech, answers))


class Answers:
    """Remembers what was asked. One per open project; not shared between threads."""

    def __init__(self, kept: int = KEPT) -> None:
        self._kept = kept
        self._answers: OrderedDict[tuple[Any, ...], Any] = OrderedDict()
        self.asked = self.remembered = 0

    def ask(self, question: Callable[P, R], *values: P.args, **named: P.kwargs) -> R:
        """The answer to ``question(*values)``, worked out only if it was not asked before. No keywords."""
        assert not named, "a question is handed its values in order"
        key = (question, *values)
        self.asked += 1
        if key in self._answers:
            self.remembered += 1
            self._answers.move_to_end(key)
            known: R = self._answers[key]
            return known
        answer = question(*values, **named)
        self._answers[key] = answer
        if len(self._answers) > self._kept:
            self._answers.popitem(last=False)
        return answer

    # What each question is handed, and nothing more.

    def ways(self, vehicle: Vehicle) -> RunWays:
        """All ways along the vehicle's runs."""
        return self.ask(run_ways, vehicle.places, vehicle.runs)

    def topology(self, vehicle: Vehicle, name: str) -> Answer[LineTopology]:
        """A line as wired."""
        line = vehicle.lines[name]
        return self.ask(line_topology, name, line, components_on(vehicle, line), self.ways(vehicle))

    def ohms(self, vehicle: Vehicle, name: str) -> Answer[LineOhms]:
        """The ohm-meter readings of a line."""
        wired = self.topology(vehicle, name)
        if isinstance(wired, Blocked):
            return wired
        line = vehicle.lines[name]
        return self.ask(line_ohms, line, components_on(vehicle, line), cable_of(vehicle, line), wired.value)

    def line_evidence(self, vehicle: Vehicle, name: str) -> LineEvidence:
        """All that the rules of a line may look at."""
        return evidence_of(vehicle, name, self.topology(vehicle, name), self.ohms(vehicle, name))

    def findings(self, vehicle: Vehicle) -> tuple[Finding, ...]:
        """Every rule on every line and on the vehicle; what holds is in it too, what is accepted is marked."""
        lines = tuple(self.line_evidence(vehicle, name) for name in vehicle.lines)
        of_lines = [finding for evidence in lines for finding in self.ask(judge_line, evidence)]
        whole = VehicleEvidence(vehicle=vehicle, reach=self.ask(reach, vehicle.components, vehicle.lines), lines=lines)
        return marked((*of_lines, *self.ask(judge_vehicle, whole), *self.traffic_findings(vehicle)), vehicle)

    def traffic(self, vehicle: Vehicle) -> Traffic:
        """What is said, heard and late in the vehicle; asked anew only when something is said otherwise."""
        return self.ask(traffic, speech_of(vehicle))

    def traffic_findings(self, vehicle: Vehicle) -> tuple[Finding, ...]:
        """Every rule of traffic; none while the vehicle says nothing."""
        if not vehicle.messages and not any(component.needs for component in vehicle.components.values()):
            return ()
        return self.ask(_judge_traffic, speech_of(vehicle), self.traffic(vehicle))

    def marked_traffic(self, vehicle: Vehicle) -> tuple[Finding, ...]:
        """The findings of traffic alone, what is accepted marked."""
        return marked(self.traffic_findings(vehicle), vehicle)

    def waiting(self, vehicle: Vehicle) -> list[tuple[str, tuple[Path, ...]]]:
        """Answers and findings that are blocked, each with the facts it waits for."""
        found: list[tuple[str, tuple[Path, ...]]] = []
        for name in vehicle.lines:
            for what, answer in (("lengths", self.topology(vehicle, name)), ("ohms", self.ohms(vehicle, name))):
                if isinstance(answer, Blocked):
                    found.append((f"{what} of line {name}", answer.by))
        found.extend(
            (f"{finding.rule} on {finding.reading.line or 'the vehicle'}", finding.reading.blocked_by)
            for finding in self.findings(vehicle)
            if finding.reading.blocked_by
        )
        return found
