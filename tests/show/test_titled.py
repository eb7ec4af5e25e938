"""Sentences on a page call things as people do."""

from loomwright.show.titled import Titles
from tests.show.sample import vehicle

VAN = vehicle()
NAME = next(name for name, line in VAN.lines.items() if len([s for s in line.stations if s.port]) > 2)
LINE = VAN.lines[NAME]
AT = next(index for index, station in enumerate(LINE.stations) if station.port)
PORT = LINE.stations[AT].port
TITLES = Titles(VAN, NAME)


def test_keys_of_ports_and_stations_become_titles():
    title = TITLES.port(PORT)
    assert "." not in title
    assert "_" not in title
    assert TITLES.text(f"switch off the termination of {PORT}.") == f"Switch off the termination of {title}."
    assert (
        TITLES.text(f"It leans on: pigtail of port {PORT}, and more.") == f"It leans on: pigtail of {title}, and more."
    )
    assert TITLES.text(f"Station {AT + 1} of line {NAME} cannot be judged.") == f"{title} cannot be judged."


def test_what_only_looks_like_a_key_stays():
    assert TITLES.text(f"See {PORT}.toml and x{PORT}") == f"See {PORT}.toml and x{PORT}"
