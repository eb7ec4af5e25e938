"""Every console example in docs/ runs, in order, in one scratch folder for each page.

A block fenced as ```console holds lines that begin with `$ ` and, under each, what is printed. `...` alone on a line
stands for any number of lines. A block fenced as ```python runs too, with the page's earlier names at hand.
"""

import os
import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from loomwright.cli import app

DOCS = Path(__file__).parents[2] / "docs"
FENCE = re.compile(r"^```(console|python)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
PAGES = sorted(page for page in DOCS.glob("*.md") if FENCE.search(page.read_text("utf-8")))


def commands(block):
    """Split a console block into (words, expected lines)."""
    found = []
    for line in block.splitlines():
        if line.startswith("$ "):
            found.append((shlex.split(line[2:]), []))
        else:
            found[-1][1].append(line)
    return found


def matches(expected, printed):
    parts = [re.escape("\n".join(part)) for part in split_at_dots(expected)]
    pattern = r"(?:.*\n)*?".join(part + (r"\n" if part else "") for part in parts)
    return re.fullmatch(pattern, printed.rstrip("\n") + "\n") is not None


def split_at_dots(lines):
    parts = [[]]
    for line in lines:
        if line == "...":
            parts.append([])
        else:
            parts[-1].append(line)
    return parts


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_the_examples_of_a_page_run(page, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "110")
    names = {}
    for kind, block in FENCE.findall(page.read_text("utf-8")):
        if kind == "python":
            exec(compile(block, str(page), "exec"), names)
            continue
        for words, expected in commands(block):
            assert words[0] == "loomwright", f"{page.name}: only our own program is run: {words}"
            result = CliRunner(env=dict(os.environ)).invoke(app, words[1:])
            # A narrow space stands between figure and unit; in a page an ordinary one is typed for it.
            printed = "\n".join(line.rstrip() for line in result.output.replace("\u202f", " ").splitlines())
            assert matches(expected, printed), f"{page.name}: {' '.join(words)} printed\n{printed}"


def test_the_matcher_can_fail():
    assert matches(["a", "...", "d"], "a\nb\nc\nd")
    assert matches(["a", "..."], "a\n")
    assert not matches(["a", "...", "d"], "a\nb\nc\n")
    assert not matches(["a"], "b")


def test_there_are_pages_to_run():
    assert PAGES
