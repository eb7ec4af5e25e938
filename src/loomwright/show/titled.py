"""Sentences for a page: what files call ``charger.can`` is called as people do, "On-board charger"."""

import re
from dataclasses import replace

from loomwright.model.vehicle import Vehicle
from loomwright.show.names import component_title, spoken
from loomwright.terms.finding import Finding


class Titles:
    """What things of one line are called. A component with two ports on the line keeps the port beside its title."""

    def __init__(self, vehicle: Vehicle, line: str) -> None:
        self._vehicle, self._line = vehicle, line
        self._stations = vehicle.lines[line].stations
        own = [station.port for station in self._stations if station.port]
        self._twice = {name for name in vehicle.components if len({p for p in own if p.partition(".")[0] == name}) > 1}
        ports = [f"{name}.{port}" for name, component in vehicle.components.items() for port in component.ports]
        self._ports = _one_of(ports, r"\b(?:port )?(?<![\w.])({})(?!\.?\w)")
        self._at = _one_of(list(vehicle.places), r"\bat ({})(?!\.?\w)")

    def port(self, port: str) -> str:
        """A port by its component."""
        name, _, own = port.partition(".")
        title = component_title(name, self._vehicle.components.get(name))
        return f"{title} ({own})" if name in self._twice else title

    def place(self, place: str) -> str:
        """A place."""
        spot = self._vehicle.places.get(place)
        return (spot.title if spot else "") or spoken(place).lower()

    def run(self, run: str) -> str:
        """A run by its two ends."""
        own = self._vehicle.runs.get(run)
        return f"The run from {self.place(own.start)} to {self.place(own.end)}" if own else f"The run {run}"

    def stop(self, index: int) -> str:
        """A station: its component, or the terminator with its place."""
        if not 0 <= index < len(self._stations):
            return f"station {index + 1}"
        station = self._stations[index]
        return self.port(station.port) if station.port else f"the terminator at {self.place(station.at)}"

    def text(self, text: str) -> str:
        """A sentence with titles for keys of ports, stations, terminators and places."""
        told = re.sub(
            rf"\bstation (\d+) of line {re.escape(self._line)}\b",
            lambda found: self.stop(int(found[1]) - 1),
            text,
            flags=re.IGNORECASE,
        )
        told = re.sub(r"\bplug-in terminator (\d+)\b", lambda found: self.stop(int(found[1]) - 1), told)
        if self._ports:
            told = self._ports.sub(lambda found: self.port(found[1]), told)
        if self._at:
            told = self._at.sub(lambda found: f"at {self.place(found[1])}", told)
        told = re.sub(r"\b(t|T)he termination of the terminator\b", r"\1he terminator", told)
        return told[:1].upper() + told[1:]

    def finding(self, finding: Finding) -> Finding:
        """A finding whose names of components are titles; ports are found in its sentence by ``text``."""
        reading = finding.reading
        because = tuple(
            (key, self.port(str(value)) if key == "component" and value in self._vehicle.components else value)
            for key, value in reading.because
        )
        return replace(finding, reading=replace(reading, because=because))


def _one_of(names: list[str], frame: str) -> re.Pattern[str] | None:
    """The longest name goes first, so that none is taken for a part of another."""
    some = "|".join(re.escape(name) for name in sorted(names, key=len, reverse=True))
    return re.compile(frame.replace("{}", some)) if some else None
