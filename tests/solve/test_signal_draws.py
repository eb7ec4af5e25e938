"""Tolerance draws: the same seed gives the same answer, no tolerance gives the typical one, bounds are kept."""

from dataclasses import replace

import numpy as np
import pytest

from loomwright.laws.levels import STRONG_DRIVER, TYPICAL_DRIVER, WEAK_DRIVER
from loomwright.model.vehicle import Cable
from loomwright.solve.signal import line_signal
from loomwright.solve.signal_draws import SHOWN, drawn_circuit, signal_draws, trace_bands
from loomwright.solve.signal_parts import signal_parts
from loomwright.solve.topology import line_topology
from loomwright.solve.ways import run_ways
from loomwright.terms.answer import Blocked
from loomwright.terms.fact import Known, Unknown
from tests.solve.build import port, string_vehicle

CABLE = Cable(
    conductor_resistance_ohm_per_m=Known(0.04), impedance_ohm=Known(120.0, low=108.0, high=132.0),
    delay_s_per_m=Known(5e-9, low=4.8e-9, high=5.3e-9),
)  # fmt: skip


def exact(**facts):
    return replace(port(**facts), node_capacitance_f=Known(50e-12), transceiver_delay_s=Known(0.0))


def case(ports=None, cable=CABLE, rate=1e6):
    ports = ports or [exact(termination="fixed"), exact(), exact(termination="fixed")]
    vehicle = string_vehicle([0.0, 5.0, 10.0], ports, cable=cable)
    line = replace(vehicle.lines["one"], bit_rate_bit_per_s=Known(rate))
    wired = line_topology("one", line, vehicle.components, run_ways(vehicle.places, vehicle.runs)).value
    return line, vehicle.components, cable, wired


def test_the_same_seed_gives_the_same_draws_and_another_seed_others():
    one, same, other = (signal_draws(*case(), draws=20, seed=seed).value for seed in (1, 1, 2))
    assert one == same
    assert one.pairs != other.pairs


@pytest.mark.parametrize("threads", [2, 3])
def test_the_same_seed_gives_the_same_draws_on_any_number_of_threads(threads):
    """Four ports and 150 draws are ten parts of unlike size; equal to the last bit."""
    ports = [exact(termination="fixed"), exact(), exact(), exact(termination="fixed")]
    vehicle = string_vehicle([0.0, 5.0, 6.0, 10.0], ports, cable=CABLE)
    wired = line_topology("one", vehicle.lines["one"], vehicle.components, run_ways(vehicle.places, vehicle.runs)).value
    asked = (vehicle.lines["one"], vehicle.components, CABLE, wired, 150)
    assert signal_draws(*asked, threads=threads) == signal_draws(*asked, threads=1)


def test_percentiles_rise_and_enclose_the_typical_answer():
    typical = {(p.sender, p.receiver): p.typical_s for p in line_signal(*case()).value.pairs}
    for pair in signal_draws(*case(), draws=60).value.pairs:
        assert 0.0 < pair.half_s <= pair.most_s <= pair.nearly_all_s <= pair.slowest_s
        assert pair.half_s == pytest.approx(typical[pair.sender, pair.receiver], abs=10e-9)


def test_no_draw_leaves_its_bounds():
    parts = signal_parts(*case())
    network, drivers = drawn_circuit(parts, parts.tips, 200, 7)
    assert WEAK_DRIVER.volts <= drivers.volts.min() < TYPICAL_DRIVER.volts < drivers.volts.max() <= STRONG_DRIVER.volts
    impedance = network.lines[0].impedance_ohm
    assert 108.0 <= impedance.min() < impedance.max() <= 132.0
    assert 4.8 / 5.0 <= network.stretch.min() < network.stretch.max() <= 5.3 / 5.0
    assert np.ptp(network.capacitance_f[:, parts.tips[1]]) == 0.0, "a value without bounds stays what it is"


def test_a_line_that_is_too_slow_misses_in_every_draw_and_a_quick_one_in_none():
    quick = signal_draws(*case(), draws=10).value
    assert (quick.missed, quick.never) == (0.0, 0.0)
    slow = [exact(termination="fixed"), exact(), replace(exact(termination="fixed"), sample_point=Known(0.05))]
    late = signal_draws(*case(slow), draws=10).value
    assert late.missed == 1.0
    assert late.worst.missed == 1.0


def test_without_terminations_it_never_settles():
    bare = signal_draws(*case([exact(node_ohm=30e3)] * 3), draws=10).value
    assert bare.never == 1.0
    assert bare.worst.slowest_s == float("inf")


def test_work_tells_how_far_it_is_and_can_be_stopped():
    told = []
    done = signal_draws(*case(), draws=50, progress=lambda at, of: told.append((at, of)) is None)
    assert not isinstance(done, Blocked)
    assert [at for at, _ in told] == list(range(told[0][1]))
    stopped = signal_draws(*case(), draws=50, progress=lambda at, of: at < 1)
    assert stopped == Blocked(())


def test_an_unknown_capacitance_blocks():
    unsure = replace(exact(termination="fixed"), node_capacitance_f=Unknown())
    assert signal_draws(*case([unsure, exact(), exact()]), draws=5).by == (
        ("components", "c0", "ports", "can", "node_capacitance_f"),
    )


def test_bands_enclose_each_other_and_end_at_the_levels_of_the_drivers():
    bands = trace_bands(*case(), "c0.can", "c2.can", draws=40).value
    columns = zip(bands.lowest_v, bands.low_v, bands.high_v, bands.highest_v, strict=True)
    assert all(a <= b <= c <= d for a, b, c, d in columns)
    at = next(i for i, t in enumerate(bands.time_s) if t > 0.9e-6)
    assert WEAK_DRIVER.volts * 0.64 < bands.lowest_v[at] < bands.highest_v[at] < STRONG_DRIVER.volts * 0.68


def test_single_draws_lie_within_the_bands_and_the_one_that_settles_last_stands_last():
    bands = trace_bands(*case(), "c0.can", "c2.can", draws=40).value
    numbers = [trace.draw for trace in bands.traces]
    assert (len(numbers), len(set(numbers))) == (SHOWN, SHOWN)
    assert bands.traces[-1].settle_s == max(trace.settle_s for trace in bands.traces)
    for trace in bands.traces:
        columns = zip(bands.lowest_v, trace.volts, bands.highest_v, strict=True)
        assert all(low - 1e-12 <= volts <= high + 1e-12 for low, volts, high in columns)


def test_a_single_draw_settles_when_its_own_waveform_says_so():
    """The wave engine's crossing against the last sample on the wrong side, a nanosecond apart."""
    bands = trace_bands(*case(), "c0.can", "c2.can", draws=5).value
    for trace in bands.traces:
        points = list(zip(bands.time_s, trace.volts, strict=True))
        dominant_s = max(t for t, volts in points if 0.0 <= t < 0.99e-6 and volts < 0.9)
        recessive_s = max(t for t, volts in points if t >= 1e-6 and volts > 0.5) - 1e-6
        assert trace.settle_s == pytest.approx(max(dominant_s, recessive_s), abs=2e-9)


def test_draws_that_never_settle_are_counted():
    bands = trace_bands(*case([exact(node_ohm=30e3)] * 3), "c0.can", "c2.can", draws=6).value
    assert bands.never == 6
    assert len(bands.traces) == 6
    assert bands.traces[-1].settle_s == float("inf")
