"""Every plan of a small vehicle, tried one by one. Shares no code with the planner but the limits' plain values.

A plan: each port on a line that it can speak on, or on none; on each line an order of the ports and for each a place
where it joins the trunk, which runs from joint to joint along shortest ways. An end port with a termination that joins
at its own place ends the trunk; any other end takes a plug-in terminator.
"""

import itertools
import math
from dataclasses import dataclass

import networkx as nx


@dataclass(frozen=True)
class Small:
    """One port of the small world, in metres."""

    name: str
    component: str
    place: str
    lead_m: float
    termination: str
    lines: tuple[str, ...]
    is_plug: bool


class EveryPlan:
    def __init__(self, vehicle, limits, branch_weight=2.0, terminator_m=0.3, unplaced=1000):
        self.vehicle, self.limits = vehicle, limits
        self.branch_weight, self.terminator_m, self.unplaced = branch_weight, terminator_m, unplaced
        graph = nx.Graph()
        graph.add_nodes_from(vehicle.places)
        for run in vehicle.runs.values():
            length = run.length_m.value
            if not graph.has_edge(run.start, run.end) or graph[run.start][run.end]["weight"] > length:
                graph.add_edge(run.start, run.end, weight=length)
        self.distance = dict(nx.all_pairs_dijkstra_path_length(graph))
        self.ports = [
            Small(
                f"{name}.{port_name}",
                name,
                component.place,
                port.pigtail_m.value,
                port.termination.value,
                tuple(
                    line_name
                    for line_name, line in vehicle.lines.items()
                    if line.bit_rate_bit_per_s.value in port.bit_rates_bit_per_s.value
                ),
                component.role == "service plug",
            )
            for name, component in vehicle.components.items()
            for port_name, port in component.ports.items()
        ]
        self.masters = {line.controller: name for name, line in vehicle.lines.items() if line.controller}
        # A master is held on its line whatever its manual says; that alone breaks a rule.
        self.misfits = sum(
            self.masters.get(port.name) is not None and self.masters[port.name] not in port.lines for port in self.ports
        )
        self.kinds = {}

    def best(self):
        """(broken rules, score in metres) of the best plan."""
        best = (math.inf, math.inf)
        for choice in itertools.product(*(self.choices(port) for port in self.ports)):
            if not self.allowed(choice):
                continue
            out = sum(line is None for line in choice)
            start = (self.unplaced * out + self.misfits + self.locks_broken_by_placing(choice), 0.0)
            totals = [start]
            for line in self.vehicle.lines:
                members = tuple(port for port, own in zip(self.ports, choice, strict=True) if own == line)
                totals.append(self.line_best(line, members))
            total = (sum(part[0] for part in totals), sum(part[1] for part in totals))
            if total[0] < best[0] or (total[0] == best[0] and total[1] < best[1] - 1e-9):
                best = total
        return best

    def choices(self, port):
        if port.name in self.masters:
            return (self.masters[port.name], None)
        return (*port.lines, None)

    def allowed(self, choice):
        pairs = [(port.component, line) for port, line in zip(self.ports, choice, strict=True) if line]
        return len(pairs) == len(set(pairs))

    def locks_broken_by_placing(self, choice):
        on = {port.name: line for port, line in zip(self.ports, choice, strict=True)}
        broken = 0
        for lock in self.vehicle.locks.values():
            here = on.get(lock.port)
            if lock.must == "be on line":
                broken += here != lock.line
            elif lock.must == "share a line with":
                broken += here is None or here != on.get(lock.other)
            elif lock.must == "not share a line with":
                broken += here is not None and here == on.get(lock.other)
            else:
                broken += here is None
        return broken

    def line_best(self, line, members):
        """(broken rules, score) of the best walk of one line with these ports."""
        key = (line, members)
        if key not in self.kinds:
            self.kinds[key] = self.walk_best(line, members) if members else (0, 0.0)
        return self.kinds[key]

    def walk_best(self, line, members):
        limits = self.limits[line]
        fixed = 0
        if any(port.is_plug for port in self.ports) and not any(port.is_plug for port in members):
            fixed += 1
        if limits.nodes is not None and sum(not port.is_plug for port in members) > limits.nodes:
            fixed += 1
        best = (math.inf, math.inf)
        for order in itertools.permutations(members):
            options = [list(self.distance[port.place]) for port in order]
            for joints in itertools.product(*options):
                found = self.one_walk(line, limits, order, joints)
                if found is not None:
                    found = (found[0] + fixed, found[1])
                    if found[0] < best[0] or (found[0] == best[0] and found[1] < best[1] - 1e-9):
                        best = found
        return best

    def one_walk(self, line, limits, order, joints):
        steps = [self.distance[a].get(b, math.inf) for a, b in itertools.pairwise(joints)]
        if not all(map(math.isfinite, steps)):
            return None
        trunk, branches, broken, plugs = sum(steps), [], 0, 2
        ended = set()
        # A lone port ends the trunk on one side only.
        for end in (0, -1) if len(order) > 1 else (0,):
            if order[end].termination != "none" and joints[end] == order[end].place:
                plugs -= 1
                trunk += order[end].lead_m
                ended.add(order[end].name)
        for port, joint in zip(order, joints, strict=True):
            if port.name in ended:
                continue
            branch = self.distance[joint][port.place] + port.lead_m
            branches.append(branch)
            broken += limits.branch_m is not None and branch > limits.branch_m + 5e-4
            broken += port.termination == "fixed"
        total = sum(branches)
        broken += limits.branches_m is not None and total > limits.branches_m + 5e-4
        counted = trunk + (total if limits.trunk_counts_branches else 0.0)
        broken += limits.trunk_m is not None and counted > limits.trunk_m + 5e-4
        for lock in self.vehicle.locks.values():
            names = [port.name for port in order]
            if lock.must in ("be at an end", "be joined through") and lock.port in names:
                at = names.index(lock.port)
                kept = joints[at] == order[at].place and (lock.must == "be joined through" or at in (0, len(order) - 1))
                broken += not kept
        return broken, trunk + self.branch_weight * total + self.terminator_m * plugs
