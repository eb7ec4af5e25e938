"""Components from and to spreadsheets."""

from typing import Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, Response

from loomwright.app.component_table import Preview, UnreadyTableError, columns, preview, table_rows
from loomwright.app.spreadsheet import UnreadableTableError, read_separated, read_workbook, separated_text, workbook
from loomwright.web.desk import base_of, done, page, part, session_of

router = APIRouter(prefix="/table")
Pasted = Annotated[str, Form(max_length=1_000_000)]

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@router.get("/components")
def table(request: Request) -> HTMLResponse:
    """Paste rows or choose a file; nothing is written before the preview was seen."""
    return page(
        request, "table.html", title="Components as a table", scope=("components",), columns=columns(), text="",
        made=None, wrong="", rows=(),
    )  # fmt: skip


@router.get("/components.csv")
def as_text(request: Request) -> Response:
    """Every component as comma-separated text."""
    text = separated_text(table_rows(session_of(request).view().vehicle))
    return _file("\ufeff".encode() + text.encode("utf-8"), "text/csv; charset=utf-8", "components.csv")


@router.get("/components.xlsx")
def as_workbook(request: Request) -> Response:
    """Every component as a workbook."""
    raw = workbook(table_rows(session_of(request).view().vehicle), "components")
    return _file(raw, WORKBOOK, "components.xlsx")


@router.post("/components/preview")
async def look(request: Request, text: Pasted = "", file: UploadFile | None = None) -> HTMLResponse:
    """Show what a table would change, with the problem of every cell that has one."""
    rows: tuple[tuple[str, ...], ...] = ()
    try:
        if file is not None and file.filename:
            raw = await file.read()
            rows = read_workbook(raw) if raw[:2] == b"PK" else read_separated(raw.decode("utf-8-sig"))
            text = separated_text(rows, "\t")
        else:
            rows = read_separated(text)
    except UnreadableTableError as error:
        return _preview(request, text, None, str(error))
    except UnicodeDecodeError:
        return _preview(request, text, None, "the file is neither a workbook nor text in UTF-8")
    return _preview(
        request, text, preview(session_of(request).view().vehicle, rows), "" if rows else "nothing was pasted"
    )


@router.post("/components/apply")
def apply(request: Request, text: Pasted) -> Response:
    """Write a table as one step."""
    session = session_of(request)
    made = preview(session.view().vehicle, read_separated(text))
    if made.change is None:
        raise UnreadyTableError("nothing was written: the table has problems, or changes nothing any more")
    answer = done(session, session.apply(made.change, base_of(request)))
    answer.headers["HX-Redirect"] = "/components"
    return answer


def _preview(request: Request, text: str, made: Preview | None, wrong: str) -> HTMLResponse:
    session = session_of(request)
    return part(
        request, "table_preview.html", 422 if wrong else 200, made=made, text=text, wrong=wrong, base=session.revision
    )


def _file(raw: bytes, kind: str, name: str) -> Response:
    return Response(raw, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})
