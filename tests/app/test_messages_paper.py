"""The workbook of messages: how its pages are set up, and that it tells what the pages tell."""

import io

import pytest
from openpyxl import load_workbook

from loomwright.app.messages_matrix import MISSES, matrix
from loomwright.app.messages_paper import SIGNS, messages_workbook
from loomwright.app.project import open_project
from loomwright.app.start import start_from_example
from loomwright.model.variant import changed
from loomwright.terms.answer import Solved
from loomwright.terms.change import Change, Edit

DAY = "2026-02-03"
A3 = 8  # ECMA-376 part 1, 18.3.1.63


@pytest.fixture(scope="module")
def tipper(tmp_path_factory):
    folder = tmp_path_factory.mktemp("paper") / "p"
    start_from_example(folder, "tipper-as-found")
    return open_project(folder)


@pytest.fixture(scope="module")
def book(tipper):
    return load_workbook(io.BytesIO(messages_workbook(tipper, DAY)))


def table(sheet):
    head, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(head, row, strict=True)) for row in rows]


def test_every_sheet_is_set_up_for_landscape_a3_one_page_wide(tipper, book):
    assert book.sheetnames == ["Who says, who needs", "Signals", "Legend"]
    for sheet, kept in zip(book, ("C2", "E2", "B2"), strict=True):
        assert (sheet.page_setup.paperSize, sheet.page_setup.orientation) == (A3, "landscape")
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.print_title_cols.startswith("$A:$")
        assert sheet.freeze_panes == kept
        assert sheet.print_area.replace("$", "").endswith(sheet.dimensions)
        foot = sheet.oddFooter
        assert foot.left.text == tipper.vehicle.name
        assert tipper.revision in foot.center.text
        assert DAY in foot.center.text
        assert "&P of &N" in foot.right.text.replace("&amp;", "&")


def test_components_stand_on_their_heads_under_what_people_call_them(tipper, book):
    sheet = book["Who says, who needs"]
    turned = [cell.value for cell in sheet[1] if cell.alignment.textRotation == 90]
    assert turned == [title for _, title in matrix(tipper).columns]
    assert [cell.value for cell in sheet[1]][:9] == [
        "Identifier", "Message", "Line", "Sender", "Period, ms", "Bytes", "Sent in", "Worst response, ms", "Deadline, ms",
    ]  # fmt: skip
    letters = [cell.column_letter for cell in sheet[1] if cell.alignment.textRotation == 90]
    assert max(sheet.column_dimensions[letter].width for letter in letters) < 6
    assert sheet.row_dimensions[1].height > 6 * max(map(len, turned))


def test_a_row_tells_sender_period_bytes_worst_and_deadline_as_numbers(tipper, book):
    (row,) = [each for each in table(book["Who says, who needs"]) if each["Identifier"] == "0x201"]
    assert row["Sender"] == "vehicle_controller.can1"
    assert (row["Period, ms"], row["Bytes"], row["Sent in"]) == (10, 8, "always")
    answer = tipper.answers.traffic(tipper.vehicle).responses["drive"]
    assert isinstance(answer, Solved)
    (found,) = [each for each in answer.value.responses if each.stream.message == "controller_drive.torque_command"]
    assert row["Worst response, ms"] == pytest.approx(found.here_s * 1e3, abs=0.006)
    assert row["Deadline, ms"] == pytest.approx(found.wanted_s * 1e3, abs=1e-6)
    assert (row["Vehicle controller"], row["Drive inverter"]) == (SIGNS["says"], SIGNS["needs"])


def test_a_message_on_several_lines_has_its_times_line_by_line_its_own_first(book):
    (row,) = [each for each in table(book["Who says, who needs"]) if each["Identifier"] == "0x181"]
    lines = row["Line"].split("\n")
    assert lines == ["Drive line", "→ Body line", "→ Old line"]
    assert len(row["Worst response, ms"].split("\n")) == len(row["Deadline, ms"].split("\n")) == len(lines)


def test_needs_that_are_not_heard_are_as_many_as_on_the_page_and_stand_out(tipper, book):
    cells = [cell for row in book["Who says, who needs"].iter_rows(min_row=2) for cell in row]
    unheard = [cell for cell in cells if cell.value == SIGNS[MISSES]]
    assert len(unheard) == matrix(tipper).misses > 0
    assert all(cell.font.bold for cell in unheard)


def test_every_signal_is_on_the_second_sheet_with_its_scale_and_its_named_values(tipper, book):
    rows = table(book["Signals"])
    there = {f"{file}.{name}.{key}" for file, one in tipper.vehicle.messages.items()
             for name, message in one.messages.items() for key in message.signals}  # fmt: skip
    assert {row["Name in the files"] for row in rows} == there
    by_name = {row["Name in the files"]: row for row in rows}
    wanted = tipper.vehicle.messages["controller_drive"].messages["torque_command"].signals["torque_wanted"]
    row = by_name["controller_drive.torque_command.torque_wanted"]
    assert [row[head] for head in ("First bit", "Bits", "Byte order", "Number", "Factor", "Offset", "Unit", "Lowest",
                                   "Highest")] == [wanted.start, wanted.bits, wanted.byte_order, wanted.number,
                                                   wanted.factor, wanted.offset, wanted.unit, wanted.low, wanted.high]  # fmt: skip
    assert by_name["controller_drive.torque_command.enable"]["Value names"] == "0 pulses off, 1 standby, 2 run"
    assert by_name["pedal.travel.track_one"]["Needed by"] == "Vehicle controller"


def test_the_legend_tells_whose_paper_it_is_and_what_is_meant_by_not_heard(tipper, book):
    told = dict(list(book["Legend"].iter_rows(values_only=True))[1:])
    assert told["Vehicle"] == tipper.vehicle.name
    assert DAY in told["Revision"]
    assert told[SIGNS[MISSES]].startswith("needs, not heard here: ")
    assert set(SIGNS.values()) <= set(told)


def test_words_that_look_like_formulas_and_feet_with_ampersands_stay_words(tipper):
    path = ("messages", "controller_drive", "messages", "torque_command", "title")
    vehicle = changed(tipper.vehicle, Change("", (Edit(path, "=1+1"), Edit(("name",), "Smith & Sons"))))

    class Otherwise:
        answers, revision = tipper.answers, tipper.revision

    Otherwise.vehicle = vehicle
    book = load_workbook(io.BytesIO(messages_workbook(Otherwise(), DAY)))
    (cell,) = [cell for cell in book["Who says, who needs"]["B"] if cell.value == "=1+1"]
    assert (cell.data_type, cell.quotePrefix) == ("s", True)
    assert book["Signals"].oddFooter.left.text.replace("&&", "&") == "Smith & Sons"


def test_the_paper_of_one_line_says_so_at_its_foot(tipper):
    book = load_workbook(io.BytesIO(messages_workbook(tipper, DAY, "old")))
    assert book["Legend"].oddFooter.left.text == f"{tipper.vehicle.name}, Old line"
    assert len(table(book["Who says, who needs"])) < len(table(book["Signals"]))
