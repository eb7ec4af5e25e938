"""A plan that breaks no rule by the planner's count breaks none by the judge's, of those that both know."""

from dataclasses import replace

import pytest

from loomwright.app.questions import Answers
from loomwright.model.table import Table
from loomwright.model.variant import changed
from loomwright.propose import arrange
from loomwright.terms.finding import Verdict, Weight
from tests.propose.build import random_vehicle

#: The planner's rule, and the judge's rules of which one at least is then broken too.
ALIKE = {
    "fixed termination at an end": {"two-terminations", "terminations-at-ends", "fixed-terminator-mid-trunk"},
    "branch within its limit": {"branch-length"},
    "all branches within their limit": {"branches-total"},
    "trunk within its limit": {"trunk-length"},
    "components within their limit": {"node-count"},
    "a service plug on the line": {"service-plug"},
    "lock kept": {"lock-kept"},
}
#: Rules of the judge that no plan may break, whatever it owns up to.
NEVER = {"way-exists", "station-once", "port-on-one-line"}


@pytest.mark.parametrize("rule_set", ["SAE J1939-11", "CiA 303-1"])
@pytest.mark.parametrize("seed", range(10))
def test_planner_and_judge_agree_on_what_is_broken(seed, rule_set):
    base = replace(random_vehicle(seed, places=9, count=8, lines=2, locks=2), rule_set=rule_set)
    # A line without a station is judged as unfinished; here it is taken off.
    plan = arrange(base)
    lines = Table({name: line for name, line in changed(base, plan.change).lines.items() if line.stations})
    findings = Answers().findings(replace(changed(base, plan.change), lines=lines))
    broken = {
        finding.rule
        for finding in findings
        if finding.verdict is Verdict.BROKEN and finding.reading.weight is Weight.GOVERNS
    }
    if not any(component.role == "service plug" for component in base.components.values()):
        # The planner asks for a plug on every line only where the vehicle has one.
        broken.discard("service-plug")
    assert not broken & NEVER
    told = {rule.rule for rule in plan.broken} & ALIKE.keys()
    assert all(ALIKE[rule] & broken for rule in told), (told, broken)
    assert broken & set().union(*ALIKE.values()) <= set().union(*(ALIKE[rule] for rule in told)), (told, broken)
