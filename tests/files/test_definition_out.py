"""Messages written as a definition file are the same messages when it is read; what the format cannot say is told."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from loomwright.files.definition import read_definition
from loomwright.files.definition_names import their_name
from loomwright.files.definition_out import Given, write_definition
from loomwright.model.message import Message, Signal
from loomwright.model.table import Table
from loomwright.terms.fact import Assumed, Known, Unknown
from tests.files import generate

PHASES = (Phase.reuse, Phase.generate)  # making a failing file small takes minutes
PORT, OTHER = "inverter.can", "controller.can1"
PORTS = {
    "dbc": {"inverter": PORT, "controller": OTHER},
    "kcd": {"inverter": PORT, "controller": OTHER},
    "sym": {"ECU": PORT},
}
PLAIN_TEXT = st.text(st.characters(codec="ascii", categories=("L", "N")), max_size=12)
WORDS = st.lists(PLAIN_TEXT, max_size=2).map(lambda parts: " ".join(" ".join(parts).split()))
STEPS = st.sampled_from([1.0, 0.5, 0.1, 0.03125, -2.0, 1e-5, 0.01, 3.0, 1e6])
OFFSETS = st.sampled_from([0.0, -40.0, 12.5, 1e-3, -1e4])


@st.composite
def fitting(draw, length, *, floats):
    """A signal of generate's, moved and shortened so that it lies within the frame."""
    signal = draw(generate.signals())
    number = draw(
        st.sampled_from(["unsigned", "signed", "float"] if floats and length >= 4 else ["unsigned", "signed"])
    )
    bits = 32 if number == "float" else draw(st.integers(1, min(64, 8 * length)))
    front = draw(st.integers(0, 8 * length - bits))
    start = front if signal.byte_order == "little endian" else 8 * (front // 8) + 7 - front % 8
    low = draw(st.none() | st.integers(-100, 0).map(float))
    most = min(99, (1 << bits - (number == "signed")) - 1)
    values = sorted(draw(st.dictionaries(st.integers(0, most), WORDS.filter(bool), max_size=3)).items())
    return replace(
        signal,
        start=start, bits=bits, number=number, factor=draw(STEPS), offset=draw(OFFSETS), unit=draw(WORDS),
        low=low, high=None if low is None else low + 5.0,
        values=tuple(f"{value} {words}" for value, words in values),
        duty="value", checksum="", selects=False, title="",
    )  # fmt: skip


@st.composite
def messages(draw, ending):
    """A message of generate's with signals that fit, some of them selected."""
    message = draw(generate.messages([PORT], ()))
    length = draw(st.integers(1, 8)) if ending != "dbc" or draw(st.booleans()) else draw(st.sampled_from([12, 64]))
    free = ending == "dbc"
    signals = dict(draw(st.dictionaries(generate.NAMES, fitting(length, floats=True), max_size=4)))
    names = sorted(signals)
    if len(names) > 1 and draw(st.booleans()):
        first = signals[names[0]]
        selector = replace(first, selects=True, number="unsigned", bits=min(8, first.bits), values=())
        if ending == "sym":
            selector = Signal(first.start, selector.bits, first.byte_order, selects=True)
        signals[names[0]] = selector
        for name in names[1:] if ending == "sym" or draw(st.booleans()) else names[1:2]:
            when = draw(st.lists(st.integers(0, 9), min_size=1, max_size=3 if free else 1, unique=True).map(sorted))
            signals[name] = replace(signals[name], selected_by=names[0], selected_when=tuple(when))
    period = draw(st.sampled_from([Known(0.01), Known(1.0), Unknown(), *([None, Known(0.0025)] if free else [])]))
    gap = draw(st.sampled_from([Known(0.05), Unknown()])) if period is None else None
    return replace(
        message,
        title="", length=length, width=draw(st.sampled_from(["11 bit", "29 bit"])), sender="", expected_by="",
        identifier=Known(draw(st.integers(0, 0x7FF))), frames="FD" if length > 8 else "classical",
        period_s=period, minimum_gap_s=gap, jitter_s=generate.Message().jitter_s, deadline_s=None,
        states=(), programmable=False, signals=Table(signals),
    )  # fmt: skip


def bare(message):
    """A message without where its figures were read, and with the names that became titles put back."""
    facts = {
        name: Known(fact.value) if isinstance(fact := getattr(message, name), (Known, Assumed)) else fact
        for name in ("identifier", "period_s", "minimum_gap_s")
    }
    signals = {name: replace(signal, title="") for name, signal in message.signals.items()}
    return replace(message, title="", signals=Table(signals), **facts)


@pytest.mark.parametrize("ending", ["dbc", "kcd", "sym"])
def test_out_and_in_again_gives_the_same_messages(ending):
    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow], phases=PHASES)
    @given(st.dictionaries(generate.NAMES, messages(ending), min_size=1, max_size=3), st.data())
    def holds(table, data):
        given_out, hearer = [], PORT if ending == "sym" else OTHER  # its two sides are the component and the rest
        for name, message in table.items():
            hears = bool(message.signals) and data.draw(st.booleans())
            given_out.append(Given("set", name, message, "" if hears else PORT, hearer if hears else ""))
        raw, told = write_definition(given_out, ending)
        lost = {place.partition(": ")[0].split(".")[1] for each in told if not each.taken for place in each.places}
        found = read_definition(raw, f"x.{ending}", PORTS[ending])
        assert found.problem is None
        whole = [each for each in given_out if each.name not in lost]
        for each in whole:
            back = found.set.messages[each.name]
            assert bare(back) == bare(replace(each.message, expected_by=back.expected_by, sender=back.sender))
            assert back.expected_by == each.expected_by
            assert (back.sender or found.set.sender if not back.expected_by else "") == each.sender
        if len({(each.message.identifier.value, each.message.width) for each in given_out}) == len(given_out):
            assert len(whole) == len(given_out), told

    holds()


SPEED = Signal(0, 16, title="MotorSpeed: of the shaft", factor=0.5, unit="rpm")


def written(message, ending="dbc", name="status_1"):
    raw, told = write_definition([Given("drive", name, message, PORT)], ending)
    return raw.decode("cp1252"), {each.kind: each.places for each in told}


def test_the_makers_names_come_back():
    message = Message("StatusOne: all of it", Known(0x181), signals=Table({"motor_speed": SPEED}))
    text, _ = written(message, name="status_one")
    assert "BO_ 385 StatusOne: 8 inverter" in text
    assert " SG_ MotorSpeed : 0|16@1+ (0.5,0) [0|0]" in text
    assert 'CM_ SG_ 385 MotorSpeed "of the shaft";' in text
    back = read_definition(text.encode(), "x.dbc", {"inverter": PORT}).set.messages["status_one"]
    assert (back.title, back.signals["motor_speed"].title) == (message.title, SPEED.title)


def test_a_title_that_is_no_name_stays_a_comment():
    assert their_name("Inverter status 1", "status_1") == "status_1"
    text, _ = written(Message("Inverter status 1: torque", Known(0x181)))
    assert 'CM_ BO_ 385 "Inverter status 1: torque";' in text


def test_counters_and_checksums_are_told_apart_in_a_dbc_file():
    message = Message(
        "",
        Known(1),
        signals=Table(
            {"live": Signal(0, 4, duty="counter"), "check": Signal(8, 8, duty="checksum", checksum="CRC-8/AUTOSAR")}
        ),
    )
    text, told = written(message)
    back = read_definition(text.encode(), "x.dbc", {"inverter": PORT}).set.messages["status_1"].signals
    assert (back["live"].duty, back["check"].duty) == ("counter", "checksum")
    assert told["rules of checksums"] == ("drive.status_1.check",)
    assert told.keys() == {"rules of checksums"}
    assert "that a signal is a counter or a checksum" in written(message, "kcd")[1]


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"identifier": Unknown()}, "messages whose identifier is unknown"),
        ({"jitter_s": Known(0.002)}, "jitter"),
        ({"deadline_s": Known(0.1)}, "deadline"),
        ({"packet_spacing_s": Known(0.1)}, "time between packets"),
        ({"programmable": True}, "whether it is programmable"),
        ({"period_s": Known(100.0)}, "periods outside of 1 to 65535 ms"),
        ({"period_s": Known(0.01, 0.009, 0.011)}, "ranges of facts: the typical value alone is written"),
        ({"signals": Table({"far": Signal(60, 8)})}, "signals outside of their frame"),
        (
            {"signals": Table({"half": Signal(0, 16, number="float")})},
            "floats of a width that the format does not know",
        ),
        ({"signals": Table({"low": Signal(0, 8, low=-1.0)})}, "ranges with one end alone, or with zero at both"),
        ({"signals": Table({"named": Signal(0, 8, values=("off",))})}, "value names without a number of their own"),
    ],
)
def test_what_a_dbc_file_cannot_say_is_told(change, kind):
    assert kind in written(replace(Message("", Known(0x10), period_s=Known(0.01)), **change))[1]


def test_what_a_kcd_or_sym_file_cannot_say_is_told():
    nested = Table(
        {
            "a": Signal(0, 8, selects=True),
            "b": Signal(8, 8, selects=True, selected_by="a", selected_when=(1,)),
            "c": Signal(16, 8, selected_by="b", selected_when=(2,)),
        }
    )
    for ending in ("kcd", "sym"):
        told = written(Message("", Known(1), frames="FD", signals=nested), ending)[1]
        assert any("FD" in kind for kind in told)
        assert told["that a message is sent on an event"] == ("drive.status_1",)
        assert any("selecting signals below others" in kind for kind in told)


def test_signs_that_end_a_text_give_way_and_are_told():
    text, told = written(Message('say "no"\\', Known(1), signals=Table({"x": Signal(0, 8, '°"C')})))
    assert told["texts with signs that the format cannot hold, which give way to spaces"]
    assert read_definition(text.encode(), "x.dbc", {"inverter": PORT}).problem is None


def test_units_outside_of_the_code_page_come_back():
    for unit in ("°C", "Ω", "Ã©"):
        raw, _ = write_definition(
            [Given("s", "m", Message("", Known(1), signals=Table({"x": replace(SPEED, unit=unit)})), PORT)], "dbc"
        )
        assert read_definition(raw, "x.dbc", {"inverter": PORT}).set.messages["m"].signals["x"].unit == unit


def test_two_ports_of_one_component_are_two_nodes():
    raw, _ = write_definition(
        [Given("s", "a", Message("", Known(1)), "g.can1"), Given("s", "b", Message("", Known(2)), "g.can2")], "dbc"
    )
    assert read_definition(raw, "x.dbc", {"g_can1": "g.can1"}).nodes == (("g_can1", 1), ("g_can2", 1))


def test_arxml_is_not_written():
    with pytest.raises(ValueError, match="not written"):
        write_definition([], "arxml")
