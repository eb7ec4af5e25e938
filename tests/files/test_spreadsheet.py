import io
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.files.spreadsheet import (
    UnreadableTableError,
    read_separated,
    read_workbook,
    separated_text,
    workbook,
)

# What a cell may hold, its first letters often ones that a spreadsheet program takes for a formula.
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=12)
CELLS = st.tuples(st.sampled_from(["", "=", "+", "-", "@", "'", "'=", "\t", "\r", "\n", "_x0041_"]), TEXT).map("".join)
FULL = CELLS.filter(str.strip)
TABLES = st.lists(st.tuples(FULL, CELLS, FULL), min_size=1, max_size=5).map(tuple)


@given(TABLES, st.sampled_from([",", "\t"]))
def test_separated_text_reads_back_as_it_was(rows, delimiter):
    head = ("component", "title", "role")
    assert read_separated(separated_text((head, *rows), delimiter)) == (head, *rows)


@settings(deadline=None)
@given(TABLES)
def test_a_workbook_reads_back_as_it_was(rows):
    assert read_workbook(workbook(rows, "components")) == rows


@given(TABLES)
def test_no_cell_of_separated_text_begins_like_a_formula(rows):
    import csv

    for row in csv.reader(io.StringIO(separated_text(rows), newline="")):
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")) for cell in row)


def test_no_cell_of_a_workbook_is_a_formula():
    from openpyxl import load_workbook

    raw = workbook([("=1+1", "+1", "-1", "@SUM(A1)", '=HYPERLINK("x")')], "components")
    sheet = load_workbook(io.BytesIO(raw)).worksheets[0]
    assert [cell.data_type for cell in sheet[1]] == ["s"] * 5
    assert all(cell.quotePrefix for cell in sheet[1])


def test_numbers_of_a_workbook_are_read_as_people_see_them():
    from openpyxl import Workbook

    book = Workbook()
    book.active.append([250, 2.5, True, None, "x"])
    out = io.BytesIO()
    book.save(out)
    assert read_workbook(out.getvalue()) == (("250", "2.5", "yes", "", "x"),)


@pytest.mark.parametrize("raw", [b"", b"PK\x03\x04broken", b"component,title\n"])
def test_what_is_no_workbook_is_told_so(raw):
    with pytest.raises(UnreadableTableError, match="workbook"):
        read_workbook(raw)


def test_a_workbook_that_unpacks_to_too_much_is_not_unpacked():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b" " * 31_000_000)
    assert len(out.getvalue()) < 100_000
    with pytest.raises(UnreadableTableError, match="too large"):
        read_workbook(out.getvalue())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("a\tb\n" * 2002, "2000 rows"),
        ("\t".join("abc" for _ in range(201)), "200 columns"),
        ("a\n" + "b" * 2001, "2000 characters"),
        ('a,b\n"open', "cannot be read as a table"),
    ],
)
def test_bounds_are_told(text, told):
    with pytest.raises(UnreadableTableError, match=told):
        read_separated(text)


def test_the_first_line_tells_the_delimiter():
    wanted = (("component", "role"), ("a", "b, c"))
    assert read_separated("component\trole\na\tb, c\n") == wanted
    assert read_separated("component;role\na;b, c\n") == wanted
    assert read_separated('\ufeffcomponent,role\r\na,"b, c"\r\n\r\n') == wanted
