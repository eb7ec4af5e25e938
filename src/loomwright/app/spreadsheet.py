"""Rows from and to spreadsheets, for faces."""

from loomwright.files.spreadsheet import (
    UnreadableTableError,
    read_separated,
    read_workbook,
    separated_text,
    workbook,
)

__all__ = ["UnreadableTableError", "read_separated", "read_workbook", "separated_text", "workbook"]
