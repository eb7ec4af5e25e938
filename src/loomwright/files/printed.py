"""Workbooks that are meant for the printer: large landscape sheets, fitted to a page's width, with heads that repeat.

Words are written as text whatever they look like, as in ``files.spreadsheet``; figures are numbers.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from loomwright.files.spreadsheet import fit_text, formula_like

Value = str | float | None
A3 = 8
"""The number of A3 in the lists of paper sizes that workbooks use (ECMA-376 part 1, 18.3.1.63)."""

MARGIN_INCH, FOOT_INCH = 0.4, 0.6
FACE = "Calibri"
TURNED_POINTS, LINE_POINTS = 6.6, 15.0
"""Height that a letter of a turned head needs, and that of a line of words, in points."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a sheet: its head, its width in characters; ``turned`` heads stand upright."""

    head: str
    width: float
    turned: bool = False
    number: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet: columns and rows below one head row.

    The first ``kept`` columns and the head row stay in view on the screen and come again on every printed page.
    ``parted`` are numbers of rows, from 0, that begin a new part; words in ``alarms`` are written bold and red.
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    kept: int = 1
    parted: tuple[int, ...] = ()
    alarms: tuple[str, ...] = ()


def printed_workbook(sheets: Sequence[Sheet], left: str, middle: str) -> bytes:
    """Sheets as a workbook (XLSX) for A3 paper; the foot of every page has two texts and the page's number."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for sheet in sheets:
        page = book.create_sheet(sheet.title)
        _fill(page, sheet)
        _set_up(page, sheet, left, middle)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _fill(page: Any, sheet: Sheet) -> None:
    from openpyxl.styles import Alignment, Border, Font, Side
    from openpyxl.utils import get_column_letter

    hair, strong = Side(style="hair", color="999999"), Side(style="thin", color="000000")
    for number, column in enumerate(sheet.columns, 1):
        page.column_dimensions[get_column_letter(number)].width = column.width
        cell = page.cell(1, number)
        _put(cell, column.head)
        cell.font = Font(name=FACE, bold=True)
        cell.alignment = Alignment(
            _side(column), "bottom", 90 if column.turned else 0, wrap_text=not column.turned, indent=_indent(column)
        )
        cell.border = Border(bottom=strong)
    turned = max((len(column.head) for column in sheet.columns if column.turned), default=0)
    page.row_dimensions[1].height = max(3 * LINE_POINTS, TURNED_POINTS * turned + 12.0)
    for at, row in enumerate(sheet.rows):
        for number, (column, value) in enumerate(zip(sheet.columns, row, strict=True), 1):
            cell = page.cell(at + 2, number)
            _put(cell, value)
            cell.alignment = Alignment(_side(column), "top", wrap_text=not column.turned, indent=_indent(column))
            cell.border = Border(top=strong if at in sheet.parted else None, bottom=hair, left=hair)
            if value in sheet.alarms:
                cell.font = Font(name=FACE, bold=True, color="B0241C")
        lines = max(_lines(value, column) for column, value in zip(sheet.columns, row, strict=True))
        page.row_dimensions[at + 2].height = LINE_POINTS * lines


def _side(column: Column) -> str:
    return "center" if column.turned else "right" if column.number else "left"


def _indent(column: Column) -> int:
    """Room between words and the figure before them."""
    return 0 if column.turned or column.number else 1


def _lines(value: Value, column: Column) -> int:
    """About how many lines words take in a column; a printer does not make rows higher by itself."""
    if column.turned or not isinstance(value, str):
        return 1
    return sum(max(1, -(-len(part) // max(1, int(column.width) - 2))) for part in value.split("\n"))


def _put(cell: Any, value: Value) -> None:
    if not isinstance(value, str):
        cell.value = value
        return
    if value:
        cell.value = fit_text(value)
        cell.data_type = "s"
        cell.quotePrefix = formula_like(value)


def _set_up(page: Any, sheet: Sheet, left: str, middle: str) -> None:
    from openpyxl.utils import get_column_letter

    last, kept = get_column_letter(len(sheet.columns)), get_column_letter(sheet.kept)
    page.freeze_panes = f"{get_column_letter(sheet.kept + 1)}2"
    page.print_title_rows = "1:1"
    page.print_title_cols = f"A:{kept}"
    page.print_area = f"A1:{last}{len(sheet.rows) + 1}"
    page.page_setup.paperSize = A3
    page.page_setup.orientation = "landscape"
    page.page_setup.fitToWidth = 1
    page.page_setup.fitToHeight = 0
    page.sheet_properties.pageSetUpPr.fitToPage = True
    edges = page.page_margins
    edges.left = edges.right = edges.top = MARGIN_INCH
    edges.bottom, edges.footer, edges.header = FOOT_INCH, MARGIN_INCH / 2, MARGIN_INCH / 2
    page.oddFooter.left.text = _foot(left)
    page.oddFooter.center.text = _foot(middle)
    page.oddFooter.right.text = f"{_foot(sheet.title)}, page &P of &N"


def _foot(words: str) -> str:
    """Words as a page's foot takes them, where an ampersand begins a code."""
    return fit_text(words).replace("&", "&&")
