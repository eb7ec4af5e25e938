"""The program from outside, as a person or a script calls it."""

import json
import subprocess
import sys
import xml.etree.ElementTree as ET

import pytest
from typer.testing import CliRunner

from loomwright.cli import EXIT_CODES, app

RUNNER = CliRunner()


def call(*words):
    return RUNNER.invoke(app, [str(word) for word in words])


def plain(*words):
    return json.loads(call(*words, "--json").stdout)


@pytest.fixture
def bench(tmp_path):
    folder = tmp_path / "bench"
    assert call("new", folder, "--from", "bench").exit_code == 0
    return folder


@pytest.fixture
def as_found(tmp_path):
    folder = tmp_path / "as-found"
    assert call("new", folder, "--from", "tipper-as-found").exit_code == 0
    return folder


def test_check_ends_with_the_worst_verdict(bench, as_found):
    for folder in (bench, as_found):
        result = plain("check", folder)
        assert call("check", folder).exit_code == EXIT_CODES[result["verdict"]]
    assert plain("check", as_found)["verdict"] == "broken"


def test_every_finding_in_json_carries_value_limit_source_and_words(as_found):
    body = plain("check", as_found)
    assert (body["schema"], body["version"]) == ("loomwright.check", 1)
    for finding in body["findings"]:
        assert finding["limit"]["document"], finding["rule"]
        assert finding["limit"]["standing"]
        assert finding["sentence"]
        assert (finding["value"] is None) == (finding["verdict"] == "unknown"), finding
        if finding["verdict"] == "broken":
            assert finding["cure"], finding["rule"]
    assert all(line["stations"] or line["blocked_by"] for line in body["lines"])


def test_tables_name_every_broken_rule(as_found):
    printed = call("check", as_found).stdout
    broken = {
        item["rule"]
        for item in plain("check", as_found)["findings"]
        if item["verdict"] == "broken" and item["weight"] == "governs"
    }
    assert broken
    assert {rule for rule in broken if rule not in printed} == set()


def test_arrange_shows_a_difference_and_writes_only_when_told(bench):
    before = {path: path.read_bytes() for path in bench.rglob("*.toml")}
    line = next((bench / "lines").glob("*.toml"))
    text = line.read_text("utf-8")
    line.write_text(text[: text.index("[[stations]]")], "utf-8")
    emptied = line.read_bytes()
    result = call("arrange", bench, "--quick", "--seconds", "5")
    assert "Nothing written" in result.stdout
    assert "+" in result.stdout
    assert line.read_bytes() == emptied
    assert call("arrange", bench, "--quick", "--seconds", "5", "--write").exit_code in (0, 3)
    assert b"[[stations]]" in line.read_bytes()
    assert {p for p in before if p != line and p.read_bytes() != before[p]} == set()
    assert plain("check", bench)["verdict"] in ("holds", "tight")


def test_draw_writes_well_formed_drawings_and_says_where(bench, tmp_path):
    body = plain("draw", bench, "--to", tmp_path / "out")
    assert len(body["files"]) == 2
    for path in body["files"]:
        ET.parse(path)


def test_unknowns_of_a_vehicle_just_started_tell_what_to_look_up(tmp_path):
    folder = tmp_path / "van"
    words = ("--name", "Van", "--length", "4.6 m", "--width", "1.8 m", "--axles", "0.9 m, 3.5 m")
    assert call("new", folder, *words).exit_code == 0
    questions = plain("unknowns", folder)["questions"]
    assert any("bit rate" in item["question"].lower() for item in questions)
    assert any(item["blocks"] for item in questions)
    assert call("unknowns", folder).exit_code == EXIT_CODES["unknown"]
    assert plain("check", folder)["verdict"] in ("unknown", "broken")


def test_new_refuses_a_folder_that_holds_something(bench):
    before = sorted(path.name for path in bench.rglob("*"))
    result = subprocess.run(
        [sys.executable, "-m", "loomwright.cli", "new", str(bench), "--from", "bench"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 2
    assert "loomwright:" in result.stderr
    assert sorted(path.name for path in bench.rglob("*")) == before


def test_explain_tells_every_rule():
    rules = plain("explain")["rules"]
    assert len(rules) > 20
    for rule in rules:
        assert call("explain", rule).exit_code == 0, rule


def test_explain_suggests_the_nearest_rule():
    result = subprocess.run(
        [sys.executable, "-m", "loomwright.cli", "explain", "branch-lenght"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 2
    assert "branch-length" in result.stderr


BAD = {
    "malformed": ("vehicle.toml", b"name = \n"),
    "unknown key": ("vehicle.toml", b'format = 1\nname = "x"\nlenght = "4 m"\nwidth = "2 m"\n'),
    "wrong dimension": ("vehicle.toml", b'format = 1\nname = "x"\nlength = "120 ohm"\nwidth = "2 m"\n'),
    "decimal comma": ("vehicle.toml", b'format = 1\nname = "x"\nlength = "4,2 m"\nwidth = "2 m"\n'),
    "missing unit": ("vehicle.toml", b'format = 1\nname = "x"\nlength = 4.2\nwidth = "2 m"\n'),
    "duplicate": ("vehicle.toml", b'format = 1\nname = "x"\nname = "y"\nlength = "4 m"\nwidth = "2 m"\n'),
    "dangling": ("components/box.toml", b'role = "other"\nplace = "nowhere"\n'),
    "encoding": ("components/box.toml", 'role = "other"\nplace = "dash"\ntitle = "Kühler"\n'.encode("latin-1")),
    "huge": ("components/box.toml", b"# " + b"x" * 50_000_000),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_names_its_place_and_nothing_is_written(case, bench):
    name, text = BAD[case]
    (bench / name).write_bytes(text)
    snapshot = {path: path.read_bytes() for path in bench.rglob("*") if path.is_file()}
    for command in ("check", "arrange", "draw", "unknowns"):
        result = call(command, bench)
        assert result.exit_code == 2, (case, command)
        assert f"{name}:" in result.stderr, (case, command)
    assert {path: path.read_bytes() for path in bench.rglob("*") if path.is_file()} == snapshot
    problems = plain("check", bench)["problems"]
    assert problems
    assert all(problem["message"] for problem in problems)


def test_all_problems_are_told_at_once(bench):
    (bench / "components" / "one.toml").write_bytes(b'role = "juggler"\nplace = "nowhere"\ncolour = "red"\n')
    (bench / "components" / "two.toml").write_bytes(b'role = "other"\n')
    messages = plain("check", bench)["problems"]
    assert {problem["file"] for problem in messages} == {"components/one.toml", "components/two.toml"}
    assert len(messages) >= 4


def test_a_missing_folder_is_told(tmp_path):
    result = call("check", tmp_path / "nothing")
    assert result.exit_code == 2
    assert "nothing" in result.stderr


def test_help_answers_at_once():
    """The promise is 0.3 s; the heavy libraries alone take longer than that, so their absence is the sure sign."""
    code = (
        "import sys; sys.argv = ['loomwright', '--help']\n"
        "import loomwright.cli\n"
        "try: loomwright.cli.main()\n"
        "except SystemExit: pass\n"
        "print([name for name in ('numpy', 'scipy', 'ortools', 'networkx', 'rich.table', 'fastapi') if name in sys.modules])"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip().endswith("[]")
