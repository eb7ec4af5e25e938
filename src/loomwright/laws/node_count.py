"""How nodes and terminators load a line together."""


def parallel_ohm(*resistances_ohm: float) -> float:
    """Resistances in parallel, in ohm."""
    return 1.0 / sum(1.0 / ohm for ohm in resistances_ohm)


def line_load_ohm(nodes: int, node_ohm: float, terminators: int = 2, terminator_ohm: float = 120.0) -> float:
    """Load in ohm of ``nodes`` input resistances and ``terminators``, cable left out.

    Source of the worked figures: data sheets TCAN1044V, TCAN114x, TCAN284x (SLLSFE8B), section on bus loading.
    """
    return 1.0 / (nodes / node_ohm + terminators / terminator_ohm)


def most_nodes(load_ohm: float, node_ohm: float, terminator_ohm: float = 120.0) -> float:
    """Most nodes, the sender included, that keep the load at or above ``load_ohm``; not rounded.

    n = 1 + Rdiff (1/RL - 2/RT). Source: MCP2551 data sheet, section 1.1.1 (112 nodes at 45 ohm and 20 kohm).
    """
    return 1.0 + node_ohm * (1.0 / load_ohm - 2.0 / terminator_ohm)
