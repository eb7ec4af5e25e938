import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.model.message import BYTE_ORDERS, Message, Signal
from loomwright.model.table import Table
from loomwright.show.traffic import frame_layout
from loomwright.show.traffic.cells import APART
from loomwright.show.traffic.layout import CELL, SMALL_CELL, TALL
from tests.show.sample import SVG, parsed, shapes
from tests.show.traffic.sample import example, outside, overlapping, rects, texts

NAME = "pump.status"
PATH = "messages.pump.messages.status"


def layout(signals, length=8, **more):
    message = Message("Status", length=length, signals=Table(signals))
    return parsed(frame_layout(NAME, message, **more))


def area(root, name):
    """Rectangles of a signal's area in the grid, without its swatch in the list."""
    groups = list(shapes(root, f"{PATH}.signals.{name}"))
    return [rect for group in groups for rect in rects(group, "bar") if rect[3] == TALL]


def origin(root):
    """Left upper corner of the frame."""
    frame = next(rect for rect in root.iter(f"{SVG}rect") if rect.get("class") == "body")
    return float(frame.get("x")), float(frame.get("y"))


def cells(root, name):
    """Byte and bit of every cell of an area, in a frame of one block."""
    x0, y0 = origin(root)
    found = set()
    for x, y, wide, _ in area(root, name):
        first = round((x - x0) / CELL)
        found |= {(round((y - y0) / TALL), 7 - first - step) for step in range(round(wide / CELL))}
    return found


def signs(root, name):
    """Cells of the ring and of the dot of a signal: highest and lowest bit."""
    x0, y0 = origin(root)
    found = {}
    for group in shapes(root, f"{PATH}.signals.{name}"):
        for circle in group.iter(f"{SVG}circle"):
            x, y = float(circle.get("cx")) - x0, float(circle.get("cy")) - y0
            found[circle.get("class")] = (int(y // TALL), 7 - int(x // CELL))
    return found.get("rule"), found.get("solid")


def test_a_little_endian_signal_goes_on_in_the_next_byte_from_its_lowest_bit():
    root = layout({"torque": Signal(20, 12)})
    assert cells(root, "torque") == {(2, bit) for bit in range(4, 8)} | {(3, bit) for bit in range(8)}
    assert signs(root, "torque") == ((3, 7), (2, 4))


def test_a_big_endian_signal_goes_on_in_the_next_byte_from_its_highest_bit():
    root = layout({"torque": Signal(19, 12, "big endian")})
    assert cells(root, "torque") == {(2, bit) for bit in range(4)} | {(3, bit) for bit in range(8)}
    assert signs(root, "torque") == ((2, 3), (3, 0))


@given(st.integers(0, 63), st.integers(1, 64), st.sampled_from(BYTE_ORDERS))
def test_the_area_has_as_many_cells_as_the_signal_has_bits(start, bits, order):
    last = start + bits - 1 if order == "little endian" else 8 * (start // 8) + 7 - start % 8 + bits - 1
    if last > 63:
        return
    root = layout({"value": Signal(start, bits, order)})
    assert len(cells(root, "value")) == bits
    assert (start // 8, start % 8) in signs(root, "value") or bits == 1


def test_each_signal_has_its_number_in_the_frame_and_in_the_list():
    root = layout({"low": Signal(0, 8), "high": Signal(8, 8, title="Upper part")})
    for number, name, listed in (("1", "low", "low"), ("2", "high", "Upper part")):
        told = [text for group in shapes(root, f"{PATH}.signals.{name}") for text in texts(group)]
        assert told.count(number) == 2
        assert {name, listed} <= set(told)


def test_shared_bits_are_hatched_and_told_with_their_sign():
    root = layout({"one": Signal(0, 8), "two": Signal(6, 4), "free": Signal(16, 8)})
    hatching = [path for path in root.iter(f"{SVG}path") if path.get("class") == "mark broken"]
    assert len(hatching) == 2  # the bits, and the legend
    assert any("one and two share bits" in text for text in texts(root))
    assert any(each.get("class") == "mark broken" for each in root.iter(f"{SVG}polygon"))


def test_signals_that_are_there_by_turns_do_not_share_and_stand_on_pages():
    signals = {
        "page": Signal(0, 8, selects=True),
        "voltage": Signal(8, 16, selected_by="page", selected_when=(0, 1, 2)),
        "warmth": Signal(8, 8, selected_by="page", selected_when=(3,)),
    }
    root = layout(signals)
    assert {"with page 0–2", "with page 3"} <= set(texts(root))
    assert not any("share bits" in text for text in texts(root))
    assert len([rect for rect in root.iter(f"{SVG}rect") if rect.get("class") == "body"]) == 2
    assert sum(rect[2] for rect in area(root, "page")) == pytest.approx(2 * 8 * SMALL_CELL)
    assert sum(rect[2] for rect in area(root, "voltage")) == pytest.approx(16 * SMALL_CELL)


def test_bits_beyond_the_end_are_drawn_below_the_frame_and_told():
    root = layout({"lost": Signal(12, 8)}, length=2)
    _, top = origin(root)
    below = [rect for rect in area(root, "lost") if rect[1] >= top + 2 * TALL + APART]
    assert sum(rect[2] for rect in below) == pytest.approx(4 * CELL)
    assert "beyond the end" in texts(root)
    assert any("lost reaches beyond the last byte" in text for text in texts(root))


def test_free_bits_are_counted_and_stay_empty():
    root = layout({"half": Signal(0, 4)}, length=1)
    assert any("4 bits free" in text for text in texts(root))
    assert cells(root, "half") == {(0, bit) for bit in range(4)}


def test_a_long_frame_stands_in_blocks_of_sixteen_bytes():
    root = layout({f"v{number}": Signal(8 * number, 8) for number in range(64)}, length=64)
    frames = [rect for rect in root.iter(f"{SVG}rect") if rect.get("class") == "body"]
    assert [round(float(frame.get("height")) / TALL) for frame in frames] == [16, 16, 16, 16]
    assert len([text for text in texts(root) if text == "v63"]) == 2  # in the frame and in the list


def test_of_a_message_longer_than_any_frame_the_first_64_bytes_are_drawn_and_that_is_told():
    root = layout({"first": Signal(0, 64), "last": Signal(8 * 112, 64)}, length=120)
    assert "The first 64 of 120 bytes are drawn; the list has every signal." in texts(root)
    assert area(root, "last") == []
    assert any("up to byte 119" in text for text in texts(root))


@pytest.mark.parametrize("width", [900.0, 1280.0])
@pytest.mark.parametrize("name", ["tipper-as-found", "minibus"])
def test_no_message_of_the_examples_is_written_over_itself_or_beside_the_sheet(name, width):
    vehicle, _, _ = example(name)
    for file, messages in vehicle.messages.items():
        for own, message in messages.messages.items():
            root = parsed(frame_layout(f"{file}.{own}", message, width=width))
            assert outside(root) == [], (file, own)
            assert overlapping(root) == [], (file, own)


def test_a_message_without_signals_says_so():
    assert "No signals of this message are written down." in texts(layout({}))


def test_a_signal_that_no_value_selects_is_told():
    root = layout({"page": Signal(0, 8, selects=True), "lost": Signal(8, 8, selected_by="page")})
    assert any("no value of the selecting signal brings them: lost" in text for text in texts(root))
    assert area(root, "lost") == []
