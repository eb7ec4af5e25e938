"""How long does a plan of all lines take, how far is it proved, and what does a plain heuristic reach?

Run from the project's folder: ``python benchmarks/planning.py [seconds for each plan]``.

The peer is nearest neighbour with 2-opt, as a textbook has it: every port goes to the line it can be on whose nearest
port is nearest, lines with a master first; each trunk then passes through all its components in a nearest-neighbour
order improved by turning stretches round. It makes no branches and knows neither limits nor a common optimum of lines.
"""

import itertools
import sys
import time

import networkx as nx

from loomwright.model.vehicle import Vehicle
from loomwright.propose import LineLimits, Weights, arrange
from planning_vehicles import made_up_vehicle

SIZES = ((10, 2, 30), (25, 3, 60), (45, 5, 60), (45, 5, 90))
SEEDS = (1, 2, 3)


def heuristic_score_m(vehicle: Vehicle, weights: Weights) -> float:
    """Score of the peer's plan in metres, counted as the planner counts it."""
    graph = nx.Graph()
    for run in vehicle.runs.values():
        graph.add_edge(run.start, run.end, weight=run.length_m.value)
    distance = dict(nx.all_pairs_dijkstra_path_length(graph))
    members = {name: [tuple(line.controller.split("."))] for name, line in vehicle.lines.items()}
    masters = {line.controller for line in vehicle.lines.values()}
    for name, component in vehicle.components.items():
        for port_name, port in component.ports.items():
            if f"{name}.{port_name}" in masters:
                continue
            fitting = [
                line
                for line, one in vehicle.lines.items()
                if one.bit_rate_bit_per_s.value in port.bit_rates_bit_per_s.value
                and name not in {other for other, _ in members[line]}
                and (port.termination.value != "fixed" or _fixed(vehicle, members[line]) < 2)
            ]
            nearest = min(
                fitting,
                key=lambda line, here=component.place: min(
                    distance[here][vehicle.components[other].place] for other, _ in members[line]
                ),
            )
            members[nearest].append((name, port_name))
    return sum(_walk_score_m(vehicle, weights, distance, stops) for stops in members.values())


def _fixed(vehicle: Vehicle, stops: list[tuple[str, str]]) -> int:
    return sum(vehicle.components[name].ports[port].termination.value == "fixed" for name, port in stops)


def _walk_score_m(vehicle: Vehicle, weights: Weights, distance: dict, stops: list[tuple[str, str]]) -> float:
    ports = [vehicle.components[name].ports[port] for name, port in stops]
    places = [vehicle.components[name].place for name, _ in stops]
    ends = [number for number, port in enumerate(ports) if port.termination.value == "fixed"]
    best = float("inf")
    for first in ends[:1] or range(len(stops)):
        order = [first]
        free = [number for number in range(len(stops)) if number not in (first, *ends[1:2])]
        while free:
            order.append(min(free, key=lambda number: distance[places[order[-1]]][places[number]]))
            free.remove(order[-1])
        order += ends[1:2]
        order = _turned([*order], places, distance, len(ends[:1]), len(ends[1:2]))
        trunk = sum(distance[places[a]][places[b]] for a, b in itertools.pairwise(order))
        own = {number for number in (order[0], order[-1]) if ports[number].termination.value != "none"}
        leads = sum(
            port.pigtail_m.value * (1.0 if number in own else weights.branch) for number, port in enumerate(ports)
        )
        best = min(best, trunk + leads + weights.terminator_m * (2 - len(own)))
    return best


def _turned(order: list[int], places: list[str], distance: dict, held_first: int, held_last: int) -> list[int]:
    """2-opt: keep turning the first stretch that shortens the path."""

    def length_m(path: list[int]) -> float:
        return sum(distance[places[a]][places[b]] for a, b in itertools.pairwise(path))

    better = True
    while better:
        better = False
        for first, last in itertools.combinations(range(held_first, len(order) + 1 - held_last), 2):
            turned = [*order[:first], *reversed(order[first:last]), *order[last:]]
            if length_m(turned) < length_m(order) - 1e-9:
                order, better = turned, True
    return order


def harder(seconds: float) -> None:
    """25 components on 3 lines where the planner's shortest way does not apply."""
    print("\n25 components, 3 lines, 60 places, otherwise")
    for seed in SEEDS[:2]:
        vehicle = made_up_vehicle(25, 3, 60, seed)
        tight = {name: LineLimits(branch_m=3.0, trunk_m=16.0) for name in vehicle.lines}
        for told, limits, weights in (
            ("a metre of branch counts once", None, Weights(branch=1.0)),
            ("branches at most 3 m, each trunk at most 16 m", tight, Weights()),
        ):
            plan = arrange(vehicle, seconds=seconds, limits=limits, weights=weights, clock=time.process_time)
            gap = "no plan" if plan.gap is None else f"{plan.gap:7.2%}"
            print(f"{told:46} seed {seed} {plan.seconds:8.2f} {gap} {plan.broken_count:6}  {plan.status}", flush=True)


def main() -> None:
    """Print the table."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    weights = Weights()
    print(
        f"up to {seconds:g} s of processor time for each plan; score in metres: trunk + {weights.branch:g} x branches + terminators"
    )
    print(f"{'components':>10} {'lines':>5} {'places':>6} {'seed':>4} {'seconds':>8} {'gap':>7} {'broken':>6} "
          f"{'score':>8} {'peer':>8} {'peer/plan':>9}  status")  # fmt: skip
    for (components, lines, places), seed in itertools.product(SIZES, SEEDS):
        vehicle = made_up_vehicle(components, lines, places, seed)
        # Processor time, so that other work on the machine does not count.
        plan = arrange(vehicle, seconds=seconds, weights=weights, clock=time.process_time)
        taken = plan.seconds
        peer = heuristic_score_m(vehicle, weights)
        if plan.score_m is None:
            print(f"{components:10} {lines:5} {places:6} {seed:4} {taken:8.2f} {plan.status}")
            continue
        print(f"{components:10} {lines:5} {places:6} {seed:4} {taken:8.2f} {plan.gap:7.2%} {plan.broken_count:6} "
              f"{plan.score_m:8.2f} {peer:8.2f} {peer / plan.score_m:9.3f}  {plan.status}", flush=True)  # fmt: skip
    harder(seconds)


if __name__ == "__main__":
    main()
