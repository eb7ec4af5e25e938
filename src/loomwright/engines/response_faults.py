"""Response times by the number of faults, and how probable each number is when faults come at random."""

import itertools
import math
from collections.abc import Sequence

import numpy as np

from loomwright.engines.flows import Faults, Flows, Integers
from loomwright.engines.response_times import Told, response_times


def times_by_faults(
    flows: Flows,
    tick_per_bit: int,
    recovery: int,
    most: int,
    *,
    foreign: int = 0,
    told: Told = lambda _done, _all: True,
) -> Integers:
    """Longest response times with 0, 1, ... ``most`` faults, shape (most + 1, flows), UNBOUNDED as there."""
    return np.stack(
        [
            response_times(flows, tick_per_bit, Faults(count, None, recovery), foreign=foreign, told=told).worst
            for count in range(most + 1)
        ]
    )


def fault_probabilities(worst: Sequence[float], faults_per_tick: float) -> tuple[float, ...]:
    """How probable it is that exactly 0, 1, 2, ... faults delay a frame to the ``worst`` times given for these numbers.

    Faults come at random and independently, ``faults_per_tick`` on average. Exactly k of them matter when k fall into
    the k-th time without the frame having come through earlier: p(k) = P(k, t_k) - sum over j < k of p(j) P(k - j, t_k -
    t_j), with P Poisson's law. One less the sum is the probability of more faults than times were given. After I. Broster,
    A. Burns, G. Rodriguez-Navas, "Probabilistic analysis of CAN with faults", 2002, from memory.
    """
    if faults_per_tick < 0.0 or any(later <= earlier for earlier, later in itertools.pairwise(worst)):
        raise ValueError("the rate of faults is not negative, and every fault makes the time longer")
    found: list[float] = []
    for count, time in enumerate(worst):
        earlier = sum(
            share * _poisson(count - fewer, faults_per_tick * (time - worst[fewer]))
            for fewer, share in enumerate(found)
        )
        found.append(_poisson(count, faults_per_tick * time) - earlier)
    return tuple(found)


def _poisson(count: int, mean: float) -> float:
    return math.exp(-mean) * mean**count / math.factorial(count)
