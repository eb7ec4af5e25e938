"""An impedance that grows with frequency as a row of resistors, each with an inductor beside it that bridges it at first.

Such a row can be marched in time step by step and can only take energy. Its resistances are the non-negative least
squares of the relative error (C. L. Lawson, R. J. Hanson, "Solving Least Squares Problems", 1974, as scipy has it).
"""

import numpy as np
from numpy.typing import NDArray

AT_HZ = (1.6e6, 50e6)
"""Where the branches come in. Two of them hold the resistance of a round wire within a quarter from 1 to 200 MHz, mostly within an eighth."""
FIT_HZ = np.geomspace(1e6, 200e6, 80)
"""Frequencies at which the row is fitted."""
ANGULAR = tuple(float(2.0 * np.pi * hertz) for hertz in AT_HZ)
_RESISTANCE_COUNTS = 2.0
"""Resistance decides how long a line rings, reactance moves its note by a little: the one counts twice the other."""


def branches(impedance: NDArray[np.complex128], whole: NDArray[np.float64]) -> tuple[float, ...]:
    """Resistances of the branches at ``ANGULAR``, in the unit of ``impedance``, which is given at ``FIT_HZ``.

    ``whole`` is the size of which the error is a share, at the same frequencies.
    """
    from scipy.optimize import nnls

    response = row(np.eye(len(AT_HZ)), FIT_HZ) / whole[:, None]
    wanted = impedance / whole
    matrix = np.vstack([_RESISTANCE_COUNTS * response.real, response.imag])
    found, _ = nnls(matrix, np.concatenate([_RESISTANCE_COUNTS * wanted.real, wanted.imag]))
    return tuple(float(value) for value in found)


def row(ohm: NDArray[np.float64], frequency_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Impedance of rows of branches at some frequencies: shapes (branches, rows) and (frequencies,) to (frequencies, rows)."""
    s = 2j * np.pi * frequency_hz[:, None]
    return np.asarray(s / (s + np.array(ANGULAR)) @ ohm)
