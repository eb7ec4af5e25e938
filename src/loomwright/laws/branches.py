"""How long branches may be by the propagation segment, and how far apart lumped loads must stand."""

from loomwright.terms.fact import Source

SINGLE = Source("Philips AN96116 (1996)", "section 6.5, eq. (12), p. 24")
TOGETHER = Source("Philips AN96116 (1996)", "section 6.5, eq. (13)")
SPACING = Source("TI SLLA279A, as quoted in the maker's support forum", "minimum distance of loads")


def longest_branch(propagation_segment_s: float, delay_s_per_m: float = 5e-9) -> float:
    """Longest single branch in metres: a fiftieth of the propagation segment. AN96116 eq. (12)."""
    return propagation_segment_s / (50.0 * delay_s_per_m)


def longest_branches(propagation_segment_s: float, delay_s_per_m: float = 5e-9) -> float:
    """Longest sum of all branches in metres: a tenth of the propagation segment. AN96116 eq. (13)."""
    return propagation_segment_s / (10.0 * delay_s_per_m)


def usual_propagation_segment_s(bit_rate_bit_per_s: float) -> float:
    """Propagation segment that makes the CANopen drop table come out: 3/8 of the bit at 1 Mbit/s, 1/2 at 800 kbit/s, else 11/16.

    Computed from the table in the Motortech manual rev 03/2019 p. 50; a line's own bit timing goes before it.
    """
    share = 3 / 8 if bit_rate_bit_per_s >= 1e6 else 1 / 2 if bit_rate_bit_per_s >= 800e3 else 11 / 16
    return share / bit_rate_bit_per_s


def least_spacing_m(load_f: float, line_f_per_m: float) -> float:
    """Least distance in metres between loads of ``load_f`` farad: CL / (0.98 C). TI SLLA279A, as quoted."""
    return load_f / (0.98 * line_f_per_m)


def line_capacitance_f_per_m(impedance_ohm: float, delay_s_per_m: float) -> float:
    """Capacitance per metre of a lossless line, delay / impedance (textbook)."""
    return delay_s_per_m / impedance_ohm


def loaded_impedance_ohm(impedance_ohm: float, load_f: float, spacing_m: float, line_f_per_m: float) -> float:
    """Impedance in ohm of a line loaded evenly: Z0 / sqrt(1 + CL/(d C)) (textbook)."""
    return float(impedance_ohm / (1.0 + load_f / (spacing_m * line_f_per_m)) ** 0.5)
