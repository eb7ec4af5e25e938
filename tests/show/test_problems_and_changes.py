from loomwright.model.line import Station
from loomwright.show.change import change_text, difference, edit_text
from loomwright.show.problems import problem_text
from loomwright.terms.change import Change, Edit
from loomwright.terms.fact import Known
from loomwright.terms.problem import Problem
from tests.show.sample import vehicle

VAN = vehicle()


def test_a_problem_points_at_the_place_and_helps():
    problem = Problem("vehicle.toml", 4, 10, "a length needs a unit", '"4.60 m"', "length", 'length = "4,6 m"', 7)
    assert problem_text(problem).splitlines() == [
        "vehicle.toml:4:10: a length needs a unit",
        '    length = "4,6 m"',
        "             ^~~~~~~",
        '    expected: "4.60 m"',
        "    did you mean length?",
    ]


def test_a_problem_of_a_whole_file_has_no_line():
    assert problem_text(Problem("components/box.toml", 0, 0, "is not UTF-8")) == "components/box.toml: is not UTF-8"


def test_a_very_long_line_is_cut_around_the_trouble():
    excerpt = "# " + "x" * 5000 + '"?!"' + "y" * 5000
    rows = problem_text(Problem("a.toml", 1, 5003, "trouble", excerpt=excerpt, width=4)).splitlines()
    assert max(len(row) for row in rows) < 200
    start = rows[2].index("^")
    assert rows[1][start : start + 4] == '"?!"'


def test_control_characters_do_not_reach_the_terminal():
    shown = problem_text(Problem("a.toml", 1, 1, "trouble", excerpt="\x1b[31mred\x07"))
    assert "\x1b" not in shown
    assert "\x07" not in shown


def test_an_edit_tells_old_and_new():
    path = ("lines", "drive", "stations", 3, "terminated")
    assert edit_text(Edit(path, True), VAN) == "lines.drive.stations[3].terminated: no → yes"
    assert edit_text(Edit(path, True)) == "lines.drive.stations[3].terminated: yes"
    rate = Edit(("lines", "drive", "bit_rate_bit_per_s"), Known(500e3))
    assert edit_text(rate, VAN).replace("\u202f", " ") == "lines.drive.bit_rate_bit_per_s: 250 kbit/s → 500 kbit/s"
    assert edit_text(Edit(("lines", "new"), None), VAN) == "lines.new: nothing → removed"


def test_stations_are_told_one_by_one():
    stations = (Station("a.can", terminated=True), Station(terminator_ohm=Known(120.0), at="rear"))
    change = Change("Turn it round", (Edit(("lines", "drive", "stations"), stations),))
    shown = change_text(change).replace("\u202f", " ")
    assert shown == "Turn it round\n  lines.drive.stations: a.can, terminated; terminator 120 Ω at rear"


def test_a_difference_shows_only_what_changes():
    old, new = b"a = 1\nb = 2\n", b"a = 1\nb = 3\n"
    rows = difference("vehicle.toml", old, new).splitlines()
    assert "-b = 2" in rows
    assert "+b = 3" in rows
    assert "-a = 1" not in rows
    assert difference("vehicle.toml", old, old) == ""
    assert "+b = 3" in difference("vehicle.toml", b"", new)
