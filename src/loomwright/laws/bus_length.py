"""How long a bus may be: by the voltage that is left at the far end, and by the time a bit takes there and back."""

from math import inf

from loomwright.terms.fact import Source

APPLICATION_NOTE = Source("Philips AN96116 (1996)", "eq. (8)-(10), (14)-(16), appendices 2 and 3")

DRIVER_LOW_V = 1.5
THRESHOLD_HIGH_V = 1.0
NODE_LOW_OHM = 20_000.0
TERMINATOR_LOW_OHM = 118.0
SAFETY_SHARE = 0.2
"""Share of the driver's swing kept as safety (ksm); with it the published table comes out."""

TABLE_CROSS_SECTIONS = ((0.25e-6, 0.090), (0.5e-6, 0.050), (0.75e-6, 0.033))
"""Conductor cross-section in m² and its resistance in ohm per metre, as the table's three rows need them."""


def longest_by_voltage(
    conductor_ohm_per_m: float,
    nodes: int,
    *,
    safety_share: float = SAFETY_SHARE,
    driver_v: float = DRIVER_LOW_V,
    threshold_v: float = THRESHOLD_HIGH_V,
    node_ohm: float = NODE_LOW_OHM,
    terminator_ohm: float = TERMINATOR_LOW_OHM,
) -> float:
    """Longest bus in metres for which the farthest node still sees the dominant threshold.

    Lmax = 1/(2 rho) (Vout/(Vth + ksm (Vout - Vth)) - 1) RT Rdiff / (Rdiff + (n - 1) RT), with every other node at the
    far end. Source: Philips AN96116 (1996) eq. (8)-(10), (14)-(16). ``nodes`` at least 2; 0 ohm/m gives infinity.
    """
    if conductor_ohm_per_m <= 0.0:
        return inf
    needed_v = threshold_v + safety_share * (driver_v - threshold_v)
    load_ohm = terminator_ohm * node_ohm / (node_ohm + (nodes - 1) * terminator_ohm)
    return (driver_v / needed_v - 1.0) * load_ohm / (2.0 * conductor_ohm_per_m)


def there_and_back_s(length_m: float, delay_s_per_m: float = 5e-9, transceiver_s: float = 255e-9) -> float:
    """Time in seconds a bit takes to the far node and back: 2 (transceiver + delay x length).

    ``transceiver_s`` is one transceiver's delay from input to output. Source: Microchip online documents
    GUID-E48B4A26, eq. 14-9; 255 ns is the most ISO 11898-2 permits, as quoted there.
    """
    return 2.0 * (transceiver_s + delay_s_per_m * length_m)


def longest_by_delay(
    bit_rate_bit_per_s: float, electronics_s: float, share: float = 0.85, delay_s_per_m: float = 5e-9
) -> float:
    """Longest bus in metres: (share / (2 rate) - electronics) / delay.

    Source: Siemens CANopen option manual 6SE6400-5BC00-0BP0 p. 72, with share 0.85 and 336 ns of electronics.
    """
    return (share / (2.0 * bit_rate_bit_per_s) - electronics_s) / delay_s_per_m
