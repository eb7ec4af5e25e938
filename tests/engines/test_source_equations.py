import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.engines.node_equations import resistance_matrix
from loomwright.engines.source_equations import driven_volts, injected_volts, transfer_matrix


def test_a_divider():
    matrix = transfer_matrix(2, [(0, 1, 30.0)], np.array([0.0, 1 / 60]))
    assert driven_volts(matrix, 0, 3.0, 30.0)[0] == pytest.approx([2.25, 1.5], abs=1e-5)
    assert driven_volts(matrix, 0, 3.0, 0.0)[0] == pytest.approx([3.0, 2.0], abs=1e-5)


def test_an_island_without_any_shunt_takes_the_driver_s_voltage_and_leaves_the_rest_at_nothing():
    """A torn cable: nodes 0 and 1 on one side, 2 and its terminator on the other."""
    matrix = transfer_matrix(3, [(0, 1, 0.14)], np.array([0.0, 0.0, 1 / 120]))
    assert driven_volts(matrix, 0, 3.0, 30.0)[0] == pytest.approx([3.0, 3.0, 0.0], abs=1e-5)


def test_joined_nodes_are_one():
    matrix = transfer_matrix(3, [(0, 1, 0.0), (1, 2, 10.0)], np.array([0.0, 1 / 60, 1 / 60]))
    volts = driven_volts(matrix, 0, 3.0, 30.0)[0]
    assert volts[0] == volts[1]
    assert volts[2] == pytest.approx(volts[1] * 60 / 70, abs=1e-5)


cases = st.integers(2, 7).flatmap(
    lambda nodes: st.tuples(
        st.tuples(*(st.integers(0, node - 1) for node in range(1, nodes))),
        st.lists(st.floats(0.01, 50.0), min_size=nodes - 1, max_size=nodes - 1),
        st.lists(st.floats(1e-5, 0.02), min_size=nodes, max_size=nodes),
        st.integers(0, nodes - 1),
        st.floats(0.0, 100.0),
    )
)


@given(cases)
def test_currents_sum_to_zero_at_every_node_and_each_batch_entry_is_the_case_alone(case):
    parents, ohms, shunt, node, source_ohm = case
    shunt = np.array(shunt)
    nodes = shunt.size
    resistors = [(parent, child, ohm) for child, (parent, ohm) in enumerate(zip(parents, ohms, strict=True), start=1)]
    scales = np.array([1.0, 0.5, 2.0])
    matrix = transfer_matrix(nodes, [(a, b, ohm * scales) for a, b, ohm in resistors], shunt)
    volts = driven_volts(matrix, node, 3.0, source_ohm)
    for index, scale in enumerate(scales):
        out = shunt * volts[index]
        for a, b, ohm in resistors:
            flow = (volts[index, a] - volts[index, b]) / (ohm * scale)
            out[a] += flow
            out[b] -= flow
        if source_ohm > 0.01:
            out[node] -= (3.0 - volts[index, node]) / source_ohm
        else:
            assert volts[index, node] == pytest.approx(3.0, rel=0.02)
            out[node] = 0.0
        assert np.abs(out).max() < 1e-6
        alone = transfer_matrix(nodes, [(a, b, ohm * scale) for a, b, ohm in resistors], shunt)
        assert np.abs(alone[0] - matrix[index]).max() < 1e-6
    ohm_meter = resistance_matrix(nodes, resistors, shunt)
    assert np.abs(matrix[0] - ohm_meter).max() < 1e-3 * ohm_meter.max()


@given(cases)
def test_injected_currents_superpose(case):
    parents, ohms, shunt, node, source_ohm = case
    resistors = [(parent, child, ohm) for child, (parent, ohm) in enumerate(zip(parents, ohms, strict=True), start=1)]
    matrix = transfer_matrix(len(shunt), resistors, np.array(shunt))
    volts = driven_volts(matrix, node, 3.0, source_ohm + 1.0)
    amperes = np.zeros(len(shunt))
    amperes[node] = (3.0 - volts[0, node]) / (source_ohm + 1.0)
    assert injected_volts(matrix, amperes)[0] == pytest.approx(volts[0], abs=1e-9)
