"""Rows of text from and to spreadsheets: comma- and tab-separated text, and workbooks (XLSX).

A cell that a spreadsheet program would run as a formula (it begins with ``= + - @``, a tab or a line end) is written as
text: in separated text with an apostrophe before it, in a workbook as a text cell with the quote mark set. Reading
takes that apostrophe off again, so that text comes back as it was.
"""

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Sequence

from loomwright.terms.errors import LoomwrightError

ROWS = 2_000
COLUMNS = 200
CELL = 2_000
UNPACKED = 30_000_000
"""Bytes that a workbook may have once it is unpacked."""

STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "'")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_UNFIT = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff\ud800-\udfff]|_(?=x[0-9A-Fa-f]{4}_)")

Rows = tuple[tuple[str, ...], ...]


class UnreadableTableError(LoomwrightError):
    """No table can be read from this text or file; the message says why."""


def separated_text(rows: Iterable[Sequence[str]], delimiter: str = ",") -> str:
    """Rows as separated text that no spreadsheet program takes for formulas."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerows(
        [[_guarded(cell) for cell in row] for row in rows]
    )
    return out.getvalue()


def read_separated(text: str) -> Rows:
    """Rows of pasted or separated text: tabs where the first line has one, else semicolons or commas."""
    text = text.removeprefix("\ufeff")
    head = text.partition("\n")[0]
    delimiter = "\t" if "\t" in head else ";" if head.count(";") > head.count(",") else ","
    try:
        found = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise UnreadableTableError(f"the text cannot be read as a table: {error}") from error
    return _checked([[_opened(cell) for cell in row] for row in found])


def workbook(rows: Iterable[Sequence[str]], title: str) -> bytes:
    """Rows as a workbook of one sheet, every cell text; the first row stays in view."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "B2"
    for number, row in enumerate(rows):
        cells = []
        for words in row:
            cell = WriteOnlyCell(sheet, value=fit_text(words))
            cell.data_type = "s"  # text whatever it looks like; a formula would have "f"
            if formula_like(words):
                cell.quotePrefix = True
            if number == 0:
                cell.font = Font(bold=True)
            cells.append(cell)
        sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def read_workbook(raw: bytes) -> Rows:
    """Rows of the first sheet of a workbook. Formulas give their last value, never themselves."""
    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as packed:
            if sum(entry.file_size for entry in packed.infolist()) > UNPACKED:
                raise UnreadableTableError("the workbook is too large once it is unpacked")
        book = load_workbook(io.BytesIO(raw), read_only=True, data_only=True, keep_links=False)
        sheet = book.worksheets[0]
        found = [
            [_cell_text(value) for value in row]
            for row in sheet.iter_rows(max_row=ROWS + 2, max_col=COLUMNS + 1, values_only=True)
        ]
    except UnreadableTableError:
        raise
    except Exception as error:  # the library raises whatever it stumbles over in a broken file
        raise UnreadableTableError("the file is no workbook (.xlsx) that can be read") from error
    return _checked(found)


def _checked(rows: list[list[str]]) -> Rows:
    """Without empty rows and empty columns at the end, within the bounds."""
    kept = [row for row in rows if any(cell.strip() for cell in row)]
    if len(kept) > ROWS + 1:
        raise UnreadableTableError(f"the table has more than {ROWS} rows")
    trimmed = []
    for row in kept:
        while row and not row[-1].strip():
            row.pop()
        if len(row) > COLUMNS:
            raise UnreadableTableError(f"the table has more than {COLUMNS} columns")
        if any(len(cell) > CELL for cell in row):
            raise UnreadableTableError(f"a cell holds more than {CELL} characters")
        trimmed.append(tuple(row))
    return tuple(trimmed)


def formula_like(words: str) -> bool:
    """Whether a spreadsheet program would run words as a formula."""
    return words.startswith(STARTS_FORMULA)


def fit_text(words: str) -> str:
    """Words as a workbook can hold them: what its text has no place for is written as ``_x0007_``."""
    return _UNFIT.sub(lambda match: f"_x{ord(match.group()):04X}_", words)


def _guarded(cell: str) -> str:
    return f"'{cell}" if formula_like(cell) else cell


def _opened(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(STARTS_FORMULA) else cell


def _cell_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return _ESCAPED.sub(lambda match: chr(int(match.group(1), 16)), str(value))
