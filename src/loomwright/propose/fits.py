"""Whether a port can take part in a line, by what its manual says."""

import math
from dataclasses import dataclass

from loomwright.model.component import Component, Port
from loomwright.model.line import Line
from loomwright.terms.change import Path
from loomwright.terms.fact import Unknown

PASSIVE_ROLE = "service plug"


@dataclass(frozen=True, slots=True)
class Fit:
    """``against`` names the facts that forbid it, ``unknown`` the paths of facts that are still open."""

    against: tuple[str, ...] = ()
    unknown: tuple[Path, ...] = ()

    @property
    def sure(self) -> bool:
        """Nothing forbids it and nothing is open."""
        return not self.against and not self.unknown


def is_passive(component: Component, port_name: str) -> bool:
    """A service plug whose bit rates are unknown is a socket: it speaks at no rate and hears at any."""
    return component.role == PASSIVE_ROLE and isinstance(component.ports[port_name].bit_rates_bit_per_s, Unknown)


def fit(component_name: str, component: Component, port_name: str, line_name: str, line: Line) -> Fit:
    """Compare bit rates, protocol, identifier width and frames of a port with those of a line."""
    if is_passive(component, port_name):
        return Fit()
    port = component.ports[port_name]
    own: Path = ("components", component_name, "ports", port_name)
    against: list[str] = []
    unknown: list[Path] = []
    if isinstance(port.protocols, Unknown):
        unknown.append((*own, "protocols"))
    elif line.protocol not in port.protocols.value:
        against.append("protocol")
    rates, rate = port.bit_rates_bit_per_s, line.bit_rate_bit_per_s
    if isinstance(rates, Unknown):
        unknown.append((*own, "bit_rates_bit_per_s"))
    if isinstance(rate, Unknown):
        unknown.append(("lines", line_name, "bit_rate_bit_per_s"))
    elif not isinstance(rates, Unknown) and not any(math.isclose(rate.value, one) for one in rates.value):
        against.append("bit rate")
    width, used = port.identifiers, line.identifiers
    if isinstance(width, Unknown):
        unknown.append((*own, "identifiers"))
    if isinstance(used, Unknown):
        unknown.append(("lines", line_name, "identifiers"))
    elif not isinstance(width, Unknown) and "both" not in (width.value, used.value) and width.value != used.value:
        against.append("identifiers")
    if isinstance(port.frames, Unknown):
        unknown.append((*own, "frames"))
    elif port.frames.value not in (line.frames, "both"):
        against.append("frames")
    _data_phase(port, own, line, against, unknown)
    return Fit(tuple(against), tuple(unknown))


def _data_phase(port: Port, own: Path, line: Line, against: list[str], unknown: list[Path]) -> None:
    """On an FD line, compare the data bit rates. A manual that does not speak of them forbids nothing."""
    rates, rate = port.data_bit_rates_bit_per_s, line.data_bit_rate_bit_per_s
    if line.frames != "FD" or rates is None or "frames" in against:
        return
    if isinstance(rates, Unknown):
        unknown.append((*own, "data_bit_rates_bit_per_s"))
    elif not isinstance(rate, Unknown) and not any(math.isclose(rate.value, one) for one in rates.value):
        against.append("data bit rate")
