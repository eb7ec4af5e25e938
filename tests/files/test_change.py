"""A change is written as the smallest edit that says it; every other byte and every comment stays."""

import difflib
import random
from dataclasses import fields, replace

import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from loomwright.app.start import examples, start_from_example
from loomwright.files import difference, load, preview
from loomwright.files.change import planned, project_texts, settled
from loomwright.files.load import understood
from loomwright.model.component import Component
from loomwright.model.line import Line, Station
from loomwright.model.table import Table
from loomwright.model.variant import changed, value_at
from loomwright.model.vehicle import Axle, Cable, Deviation, Lock, Place, Run
from loomwright.terms.change import Change, Edit, path_text
from loomwright.terms.errors import PathError, RefusedWriteError
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from tests.files.generate import vehicles

VEHICLE = b"""# the van
format = 1
name = "x"  # its name
length = "4 m"
width = "2 m"

# where things sit
[places.a]
x = "1 m"   # by tape
y = "0 m"

# beside the wheel
[places.b]
x = "2 m"
y = "0 m"

# runs

[runs.r]
from = "a"
to = "b"
length = "1.2 m"
"""
BOX = b"""role = "other"
place = "a"
manual = "a manual"

[ports.can]
pigtail = "300 mm"  # measured twice
pigtail_source = "page 3"
"""
LINE = b"""title = "One"

# first: the box
[[stations]]
port = "box.can"

# then the other
[[stations]]
port = "bix.can"   # with a remark
branch = "0.4 m"

# the plug
[[stations]]
terminator = "120 ohm"
at = "b"
"""
TEXTS = {"vehicle.toml": VEHICLE, "components/box.toml": BOX, "components/bix.toml": BOX, "lines/one.toml": LINE}
PIGTAIL = ("components", "box", "ports", "can", "pigtail_m")
STATIONS = ("lines", "one", "stations")


def after(*edits, **files):
    """New bytes of every file that the edits touch, checked to load as the changed vehicle."""
    texts = TEXTS | {name.replace("__", "/") + ".toml": text for name, text in files.items()}
    loaded = understood(texts)
    assert loaded.problems == ()
    change = Change("test", tuple(Edit(*edit) for edit in edits))
    pairs = preview(loaded, change)
    assert all(old == texts.get(name, b"") for name, (old, _) in pairs.items())
    again = understood({n: t for n, t in (texts | {n: new for n, (_, new) in pairs.items()}).items() if t})
    assert again.problems == ()
    assert settled(again.vehicle) == settled(changed(loaded.vehicle, change))
    return {name: new for name, (_, new) in pairs.items()}


def one(*edits, **files):
    """The new bytes of the one file that is touched."""
    (new,) = after(*edits, **files).values()
    return new


# Values


def test_one_value_changes_and_every_other_byte_stays():
    assert after((("places", "a", "x_m"), 1.25)) == {"vehicle.toml": VEHICLE.replace(b'"1 m"   #', b'"1.25 m"   #')}
    assert one((("name",), 'y "z" \\')) == VEHICLE.replace(b'"x"  #', b'"y \\"z\\" \\\\"  #')


def test_a_value_keeps_the_unit_and_the_decimals_its_writer_chose():
    assert one((PIGTAIL, Known(0.35, source=Source("a manual", "page 3")))) == BOX.replace(b'"300 mm"', b'"350 mm"')
    line = LINE.replace(b'"0.4 m"', b'"0.40 m"')
    assert one(((*STATIONS, 1, "branch_m"), 1.5), lines__one=line) == line.replace(b'"0.40 m"', b'"1.50 m"')


def test_a_change_without_effect_touches_nothing():
    assert after((("places", "a", "x_m"), 1.0), (("places", "a", "z_m"), 0.0)) == {}


def test_a_new_key_goes_where_a_person_would_look_for_it():
    assert one((("places", "a", "title"), "here"), (("places", "a", "z_m"), 0.5)) == VEHICLE.replace(
        b'y = "0 m"\n\n# beside', b'y = "0 m"\nz = "0.5 m"\ntitle = "here"\n\n# beside'
    )
    assert one((("rule_set",), "SAE J1939-15")) == VEHICLE.replace(
        b'width = "2 m"\n', b'width = "2 m"\nrule_set = "SAE J1939-15"\n'
    )
    assert one((("lines", "one", "bit_rate_bit_per_s"), Known(250e3))).startswith(
        b'title = "One"\nbit_rate = "250 kbit/s"\n\n# first'
    )
    assert one((("lines", "one", "title"), "Two"), lines__one=LINE[15:]) == b'title = "Two"\n\n' + LINE[15:]


def test_a_value_at_its_default_stays_readable_where_its_key_is_written():
    texts = LINE.replace(b'port = "box.can"\n', b'port = "box.can"\nterminated = true  # the jumper\n')
    assert one(((*STATIONS, 0, "terminated"), False), lines__one=texts) == texts.replace(b"true", b"false")
    assert one(((*STATIONS, 2, "at"), "a"), ((*STATIONS, 1, "branch_m"), None)) == LINE.replace(
        b'branch = "0.4 m"\n', b""
    ).replace(b'at = "b"', b'at = "a"')


RATES = ("components", "box", "ports", "can", "bit_rates_bit_per_s")
LISTED = b"""bit_rates = [
    "125 kbit/s",
    # as it comes from the maker:
    "250 kbit/s",  # jumper B
    "500 kbit/s" # jumper C
]
"""


@pytest.mark.parametrize(
    ("rates", "old", "new"),
    [
        ((125e3, 250e3, 1e6), b'"500 kbit/s"', b'"1 Mbit/s"'),
        ((125e3, 500e3), b'"250 kbit/s",  # jumper B', b"# jumper B"),
        ((125e3, 250e3), b'    "500 kbit/s" # jumper C', b"     # jumper C"),
        ((250e3, 500e3), b'    "125 kbit/s",\n', b"    \n"),
        ((250e3,), b"", b""),
        ((125e3, 250e3, 500e3, 1e6), b'"500 kbit/s"', b'"500 kbit/s", "1 Mbit/s"'),
        ((50e3, 125e3, 250e3, 500e3), b'"125 kbit/s"', b'"50 kbit/s", "125 kbit/s"'),
    ],
)
def test_a_list_keeps_the_comments_between_its_entries(rates, old, new):
    box = BOX + LISTED
    text = one((RATES, Known(rates)), components__box=box)
    for comment in (b"# as it comes from the maker:", b"# jumper B", b"# jumper C"):
        assert comment in text
    if old:
        assert text == box.replace(old, new)


def test_a_list_on_one_line_stays_on_one_line():
    box = BOX + b'bit_rates = ["125 kbit/s", "250 kbit/s"]\n'
    assert one((RATES, Known((250e3,))), components__box=box) == box.replace(b'"125 kbit/s", ', b"")
    assert one((RATES, Known((125e3,))), components__box=box) == box.replace(b', "250 kbit/s"', b"")
    assert one((RATES, Known((800e3, 50e3, 500e3))), components__box=box) == box.replace(
        b'"125 kbit/s", "250 kbit/s"', b'"800 kbit/s", "50 kbit/s", "500 kbit/s"'
    )
    assert one((RATES, Unknown()), components__box=box) == box.replace(b'["125 kbit/s", "250 kbit/s"]', b'"?"')


# Facts


def test_a_fact_that_becomes_assumed_loses_its_source_and_keeps_its_comment():
    assert one((PIGTAIL, Assumed(0.3, "looks like it"))) == BOX.replace(
        b'pigtail_source = "page 3"\n', b'pigtail_assumed = "looks like it"\n'
    )


def test_an_unknown_is_a_question_mark_and_may_carry_its_question():
    start = BOX.replace(b'"300 mm"', b'"?"').replace(b'pigtail_source = "page 3"\n', b"")
    assert one((PIGTAIL, Unknown())) == start
    assert one((PIGTAIL, Unknown("How long?", "chapter 3"))) == start + b'pigtail_ask = "How long?"\n'
    assert one((PIGTAIL, Known(0.2)), components__box=start + b'pigtail_ask = "How long?"\n') == start.replace(
        b'"?"', b'"0.2 m"'
    )


def test_a_fact_back_at_its_default_goes_with_everything_beside_it():
    assumed = Assumed(0.0, "connector taken to sit on the box")
    assert one((PIGTAIL, assumed)) == BOX[: BOX.index(b"pigtail")]


def test_a_source_is_told_against_the_manual():
    sheet, manual = Source("data sheet", "table 2"), Source("a manual", "page 9")
    assert b'pigtail_source = "data sheet: table 2"\n' in one((PIGTAIL, Known(0.3, source=sheet)))
    assert b'pigtail_source = "page 9"\n' in one((PIGTAIL, Known(0.3, source=manual)))
    assert b'pigtail_source = "data sheet:"\n' in one((PIGTAIL, Known(0.3, source=Source("data sheet"))))
    assert one((PIGTAIL, Known(0.3))) == BOX.replace(b'pigtail_source = "page 3"\n', b"")


def test_facts_keep_their_document_when_the_manual_is_another():
    assert one((("components", "box", "manual"), "edition 2")) == BOX.replace(b'"a manual"', b'"edition 2"').replace(
        b'"page 3"', b'"a manual: page 3"'
    )


def test_a_source_alone_leaves_the_value_as_it_was_written():
    box = BOX.replace(b'"300 mm"', b'"0.3 m +- 10 %"')
    fact = Known(0.3, 0.27, 0.33, Source("a manual", "page 4"))
    assert one((PIGTAIL, fact), components__box=box) == box.replace(b"page 3", b"page 4")


# Stations


def blocks(text=LINE):
    return text.decode().split("\n\n")


def stations():
    return understood(TEXTS).vehicle.lines["one"].stations


def test_stations_move_as_blocks_with_their_comments():
    first, second, third = stations()
    head, box, bix, plug = blocks()
    assert one((STATIONS, (second, first, third))).decode() == "\n\n".join([head, bix, box, plug])
    assert one((STATIONS, (third, first, second))).decode() == "\n\n".join([head, plug.rstrip(), box, bix]) + "\n"


def test_stations_are_taken_out_and_added_between_others():
    first, second, third = stations()
    head, box, bix, plug = blocks()
    new = '[[stations]]\nport = "box.can"\nat = "b"'
    assert one((STATIONS, (first, third))).decode() == "\n\n".join([head, box, plug])
    assert one(((*STATIONS, 0), None)).decode() == "\n\n".join([head, bix, plug])
    assert one((STATIONS, (first, second))).decode() == "\n\n".join([head, box, bix]) + "\n"
    more = Station("box.can", at="b")
    assert one((STATIONS, (first, second, third, more))).decode() == LINE.decode() + "\n" + new + "\n"
    assert one((STATIONS, (first, second, more, third))).decode() == "\n\n".join([head, box, bix, new, plug])
    assert one((STATIONS, (more, second, third))).decode() == "\n\n".join(
        [head, box.replace('"box.can"', '"box.can"\nat = "b"'), bix, plug]
    )
    assert one((STATIONS, ())).decode() == head + "\n"


def test_a_station_that_moves_and_changes_keeps_its_block():
    first, second, third = stations()
    head, box, bix, plug = blocks()
    new = one((STATIONS, (replace(second, branch_m=0.5, terminated=True), first, third)))
    assert new.decode() == "\n\n".join([head, bix.replace("0.4 m", "0.5 m") + "\nterminated = true", box, plug])


def test_a_port_set_in_place_keeps_the_block_and_a_port_replaced_does_not():
    assert one(((*STATIONS, 1, "port"), "box.can")) == LINE.replace(b'"bix.can"', b'"box.can"')
    first, _, third = stations()
    new = one((STATIONS, (first, Station("box.can", at="a"), third)))
    assert b"then the other" not in new


def test_a_section_comment_stays_where_it_is_when_blocks_around_it_change():
    line = LINE.replace(b"# the plug\n", b"# rear part\n\n# the plug\n")
    first, second, third = stations()
    assert one((STATIONS, (first, third)), lines__one=line).decode() == "\n\n".join(
        [blocks()[0], blocks()[1], "# rear part", blocks()[3]]
    )
    assert b"# rear part" in one((STATIONS, (first, second)), lines__one=line)


def test_a_line_that_ends_without_a_line_end_still_does():
    line = LINE.removesuffix(b"\n")
    first, second, third = stations()
    for new in ((third, first, second), (first, second), (first, second, third, Station("box.can", at="a")), (second,)):
        text = one((STATIONS, new), lines__one=line)
        assert not text.endswith(b"\n")
        assert b"\n\n\n" not in text
    assert one(((*STATIONS, 2, "section_m"), 1.0), lines__one=line) == line + b'\nsection = "1 m"'


def test_stations_of_a_line_without_any_are_put_below_its_keys():
    assert one((STATIONS, (Station("box.can"),)), lines__one=b"") == b'[[stations]]\nport = "box.can"\n'
    assert one((STATIONS, (Station("box.can"),)), lines__one=b'title = "One"\nstations = []\n') == (
        b'title = "One"\n\n[[stations]]\nport = "box.can"\n'
    )


INLINE = b'stations = [\n    { port = "box.can" },\n    { port = "bix.can", branch = "0.4 m" },\n]\n'


def test_stations_in_brackets_are_edited_in_brackets():
    first, second = understood(TEXTS | {"lines/one.toml": INLINE}).vehicle.lines["one"].stations
    assert one(((*STATIONS, 1, "branch_m"), 0.5), lines__one=INLINE) == INLINE.replace(b"0.4", b"0.5")
    assert one(((*STATIONS, 0, "terminated"), True), lines__one=INLINE) == INLINE.replace(
        b'"box.can" }', b'"box.can", terminated = true }'
    )
    assert one((STATIONS, (second, first)), lines__one=INLINE) == (
        b'stations = [\n    { port = "bix.can", branch = "0.4 m" },\n    { port = "box.can" },\n]\n'
    )
    assert one((STATIONS, (first,)), lines__one=INLINE) == b'stations = [\n    { port = "box.can" },\n]\n'
    assert one((STATIONS, (second,)), lines__one=INLINE.replace(b"\n    ", b" ").replace(b",\n]", b" ]")) == (
        b'stations = [{ port = "bix.can", branch = "0.4 m" }]\n'
    )
    assert one((STATIONS, (first, Station("box.can", at="a"), second)), lines__one=INLINE) == INLINE.replace(
        b"},\n    {", b'},\n    { port = "box.can", at = "a" },\n    {'
    )
    commented = INLINE.replace(b"},\n    {", b"}, # the box\n    {")
    assert one(((*STATIONS, 1, "branch_m"), 0.5), lines__one=commented) == commented.replace(b"0.4", b"0.5")
    with pytest.raises(RefusedWriteError, match="comments between"):
        one((STATIONS, (second, first)), lines__one=commented)


# Tables and files


def test_places_come_and_go_with_their_comments():
    place = Place(3.0, -0.5, title="new")
    assert one((("places", "c"), place)) == VEHICLE.replace(
        b"\n# runs", b'\n[places.c]\nx = "3 m"\ny = "-0.5 m"\ntitle = "new"\n\n# runs'
    )
    without = after((("runs", "r"), None), (("places", "b"), None), ((*STATIONS, 2), None))
    assert without["vehicle.toml"] == VEHICLE[: VEHICLE.index(b"\n# beside")] + b"\n# runs\n"


@pytest.mark.parametrize(
    ("path", "value", "text"),
    [
        (("runs", "s"), Run("b", "a", Known(1.0)), b'\n[runs.s]\nfrom = "b"\nto = "a"\nlength = "1 m"\n'),
        (("cables", "c"), Cable("twisted pair", Known(0.5e-6)), b'\n[cables.c]\ntitle = "twisted pair"\ncross_section = "0.5 mm2"\n'),
        (("locks", "l"), Lock("box.can", "be on line", "one"), b'\n[locks.l]\nport = "box.can"\nmust = "be on line"\nline = "one"\n'),
        (("axles",), (Axle(0.8), Axle(3.0, 1.4)), b'\n[[axles]]\nx = "0.8 m"\n\n[[axles]]\nx = "3 m"\ntrack = "1.4 m"\n'),
        (
            ("deviations", "d"),
            Deviation("branch-length", "x", "0.4 m", "why not", "M. B."),
            b'\n[deviations.d]\nrule = "branch-length"\nsubject = "x"\nmeasured = "0.4 m"\nreason = "why not"\nby = "M. B."\n',
        ),
    ],
    ids=lambda value: path_text(value) if isinstance(value, tuple) and value and isinstance(value[0], str) else "",
)  # fmt: skip
def test_every_kind_of_entry_can_be_added_and_taken_out_again(path, value, text):
    new = one((path, value))
    assert new == VEHICLE + text
    gone = () if path == ("axles",) else None
    assert one((path, gone), vehicle=new) == VEHICLE


def test_a_component_is_a_file():
    box = understood(TEXTS).vehicle.components["box"]
    assert after((("components", "new"), Component("heater", "b", manual="m"))) == {
        "components/new.toml": b'role = "heater"\nplace = "b"\nmanual = "m"\n'
    }
    used = LINE.replace(
        b'\n# then the other\n[[stations]]\nport = "bix.can"   # with a remark\nbranch = "0.4 m"\n', b""
    )
    assert after((("components", "bix"), None), lines__one=used) == {"components/bix.toml": b""}
    assert after((("lines", "two"), Line())) == {"lines/two.toml": b'protocol = "raw"\n'}
    port = replace(box.ports["can"], needed=False)
    assert one((("components", "box", "ports", "can2"), port)) == (
        BOX + b'\n[ports.can2]\npigtail = "0.3 m"\npigtail_source = "page 3"\nneeded = false\n'
    )


def test_a_new_name_takes_the_text_and_its_comments_along():
    vehicle = understood(TEXTS).vehicle
    new = after(
        (("components", "bax"), vehicle.components["bix"]),
        (("components", "bix"), None),
        (("lines", "one", "stations", 1, "port"), "bax.can"),
    )
    assert new == {
        "components/bax.toml": BOX,
        "components/bix.toml": b"",
        "lines/one.toml": LINE.replace(b'"bix.can"', b'"bax.can"'),
    }
    vehicle_text = VEHICLE.replace(b'x = "2 m"', b'x = "2 m" # by eye')
    renamed = [(("places", "z"), vehicle.places["b"]), (("places", "b"), None), (("runs", "r", "end"), "z")]
    text = one(*renamed, lines__one=b'title = "One"\n', vehicle=vehicle_text)
    assert text == vehicle_text.replace(b"[places.b]", b"[places.z]").replace(b'to = "b"', b'to = "z"')
    text = one((("places", "z"), vehicle.places["b"]), vehicle=vehicle_text)
    assert text == vehicle_text.replace(b"\n# runs", b'\n[places.z]\nx = "2 m" # by eye\ny = "0 m"\n\n# runs')


MESSAGES = b"""sender = "box.can"

# the first of two
[messages.state]   # as the manual has it
identifier = 0x101

[messages.state.signals.speed]
start = 0
bits = 16   # counted on the bench

[messages."state".signals . torque]
start = 16
bits = 16

[messages.other.signals.state]
start = 0
bits = 8
"""


def test_a_table_with_tables_inside_takes_a_new_name_where_it_stands():
    vehicle = understood(TEXTS | {"messages/said.toml": MESSAGES}).vehicle
    path = ("messages", "said", "messages")
    edits = [((*path, "mood"), vehicle.messages["said"].messages["state"]), ((*path, "state"), None)]
    new = after(*edits, messages__said=MESSAGES)["messages/said.toml"]
    assert new == (
        MESSAGES.replace(b"[messages.state]", b"[messages.mood]")
        .replace(b"[messages.state.signals", b"[messages.mood.signals")
        .replace(b'"state"', b"mood")
    )


def test_whole_tables_can_be_set_at_once():
    places = understood(TEXTS).vehicle.places
    new = one((("places",), places.put("c", Place(1.0, 1.0)).put("a", Place(1.25, 0.0))))
    assert new == VEHICLE.replace(b'"1 m"   #', b'"1.25 m"   #').replace(
        b"\n# runs", b'\n[places.c]\nx = "1 m"\ny = "1 m"\n\n# runs'
    )


DOTTED = b"""format = 1
name = "x"
length = "4 m"
width = "2 m"
places.a = { x = "1 m", y = "0 m" } # inline
places.b.x = "3 m" # dotted
places.b.y = "0 m"
runs = {}
"""


def test_inline_tables_and_dotted_keys_are_edited_where_they_stand():
    assert one((("places", "a", "z_m"), 0.5), (("places", "b", "z_m"), 0.7), vehicle=DOTTED) == DOTTED.replace(
        b'y = "0 m" }', b'y = "0 m", z = "0.5 m" }'
    ).replace(b'places.b.y = "0 m"\n', b'places.b.y = "0 m"\nplaces.b.z = "0.7 m"\n')
    assert one((("places", "b", "x_m"), 2.5), vehicle=DOTTED) == DOTTED.replace(b'"3 m"', b'"2.5 m"')
    assert b'runs = { r = { from = "a", to = "b" } }\n' in one((("runs", "r"), Run("a", "b")), vehicle=DOTTED)
    new = one((("places", "c"), Place(1.0, 1.0)), vehicle=DOTTED)
    assert new == DOTTED + b'\n[places.c]\nx = "1 m"\ny = "1 m"\n'


def test_a_table_in_braces_gains_and_loses_names_and_values_at_once():
    vehicle = DOTTED.replace(b"runs = {}", b'runs = { r = { to = "b", from = "a" }, s = { from = "b", to = "a" } }')
    new = one(
        (("runs", "t"), Run("a", "b")),
        (("runs", "q"), Run("b", "a")),
        (("runs", "s"), None),
        (("runs", "r", "length_m"), Known(1.5)),
        vehicle=vehicle,
    )
    assert new.endswith(
        b'runs = { r = { to = "b", from = "a", length = "1.5 m" }, q = { from = "b", to = "a" }, t = { from = "a", to = "b" } }\n'
    )
    crossed = DOTTED.replace(b"runs = {}", b'runs = { r.from = "a", r.to = "b" }')
    assert b'r.to = "a"' in one((("runs", "r", "end"), "a"), (("runs", "r", "start"), "b"), vehicle=crossed)
    with pytest.raises(RefusedWriteError, match="lines of their own"):
        one((("runs", "s"), Run("a", "b")), vehicle=crossed)
    with pytest.raises(RefusedWriteError, match="lines of their own"):
        one((("runs", "r", "length_m"), Known(1.0)), vehicle=crossed)


def test_a_table_without_any_key_gets_its_first():
    box = b'role = "other"\nplace = "a"\n[ports.can]  # the only one\n\n# the end\n'
    assert one((PIGTAIL, Known(0.2)), components__box=box) == box.replace(b"one\n", b'one\npigtail = "0.2 m"\n')


def test_dotted_and_inline_tables_are_taken_out_where_they_stand():
    moved = ((("components", name, "place"), "a") for name in ("box", "bix"))
    new = after((("places", "b"), None), ((*STATIONS, 2, "at"), "a"), *moved, vehicle=DOTTED)["vehicle.toml"]
    assert new == b"".join(line for line in DOTTED.splitlines(keepends=True) if b"places.b" not in line)
    moved = ((("components", name, "place"), "b") for name in ("box", "bix"))
    new = after((("places", "a"), None), *moved, vehicle=DOTTED)["vehicle.toml"]
    assert new == b"".join(line for line in DOTTED.splitlines(keepends=True) if b"places.a" not in line)


def test_windows_line_ends_and_a_byte_order_mark_stay():
    files = {
        name.replace("/", "__").removesuffix(".toml"): b"\xef\xbb\xbf" + text.replace(b"\n", b"\r\n")
        for name, text in TEXTS.items()
    }
    first, _, third = stations()
    new = after(
        (STATIONS, (third, replace(first, terminated=True))),
        (("places", "c"), Place(0.0, 0.0)),
        (("components", "c"), Component("other", "a", title="c")),
        (PIGTAIL, Unknown("?")),
        **files,
    )
    assert len(new) == 4
    for name, text in new.items():
        assert text.count(b"\n") == text.count(b"\r\n"), name
        assert text.startswith(b"\xef\xbb\xbf") or name == "components/c.toml"


# What cannot be written


@pytest.mark.parametrize(
    ("edit", "reason"),
    [
        ((("components", "box", "place"), "nowhere"), "there is no place 'nowhere'"),
        ((("components", "box"), None), "there is no component 'box'"),
        ((("components", "../box"), Component("other", "a")), "is no name"),
        ((("places", "A b"), Place(0.0, 0.0)), "is no name"),
        ((("places", "a", "x_m"), float("nan")), "cannot be written"),
        ((("places", "a", "x_m"), float("inf")), "cannot be written"),
        ((("places", "a", "x_m"), "1 m"), "x cannot be '1 m'"),
        ((("places", "a", "title"), 3), "title cannot be 3"),
        ((("places", "a", "title"), "\ud800"), "no text that UTF-8 can hold"),
        ((("length_m",), -1.0), "is negative"),
        ((PIGTAIL, Assumed(0.3, "")), "found nothing"),
        ((PIGTAIL, Known(0.3, 0.4, 0.5)), "cannot be written"),
        ((PIGTAIL, Known(0.3, source=Source("a: b"))), "cannot say exactly this"),
        (((*STATIONS, 0), Station()), "neither a port nor a terminator"),
        ((("runs", "r", "end"), "a"), "joins a place to itself"),
    ],
    ids=lambda value: path_text(value[0]) if isinstance(value, tuple) else "",
)
def test_a_change_that_files_cannot_say_is_refused_with_the_reason(edit, reason):
    with pytest.raises(RefusedWriteError, match=reason):
        after(edit)


def test_a_path_that_is_not_there_is_told():
    with pytest.raises(PathError):
        after((("places", "nowhere", "x_m"), 1.0))


def test_a_project_with_problems_is_not_written():
    loaded = understood(TEXTS | {"components/box.toml": BOX + b"colour = 3\n"})
    with pytest.raises(RefusedWriteError, match="has problems"):
        preview(loaded, Change("", (Edit(("places", "a", "x_m"), 2.0),)))


def test_the_difference_is_told_in_the_usual_form():
    loaded = understood(TEXTS)
    pairs = preview(loaded, Change("", (Edit(("places", "a", "x_m"), 1.25),)))
    text = difference("vehicle.toml", *pairs["vehicle.toml"])
    assert text.splitlines()[:2] == ["--- vehicle.toml", "+++ vehicle.toml"]
    assert '-x = "1 m"   # by tape' in text
    assert '+x = "1.25 m"   # by tape' in text
    assert difference("lines/two.toml", b"", b"x\n").startswith("--- (no file)")


# Everything


def edits_of(old, new):
    """One edit for every value or entry in which two vehicles differ."""
    for field in fields(new):
        was, now = getattr(old, field.name), getattr(new, field.name)
        if isinstance(now, Table):
            yield from (Edit((field.name, name), None) for name in was if name not in now)
            yield from (Edit((field.name, name), now[name]) for name in now if was.get(name) != now[name])
        elif was != now:
            yield Edit((field.name,), now)


def with_comments(text, chance):
    """The text with remarks strewn over it, each one of its kind."""
    made = []
    for number, line in enumerate(text.decode("utf-8").split("\n")):
        if chance.random() < 0.15:
            made += [f"# remark {number}", *([""] if chance.random() < 0.3 else [])]
        made.append(f"{line} # at {number}" if line and chance.random() < 0.2 else line)
    return "\n".join(made).encode("utf-8")


SLOW = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # a whole vehicle takes minutes to shrink
)


@SLOW
@given(vehicles(), vehicles(), st.booleans(), st.integers(0, 99))
def test_any_vehicle_can_become_any_other_and_come_back(old, new, windows, seed):
    chance = random.Random(seed)
    texts = {name: with_comments(text, chance) for name, text in project_texts(old).items()}
    if windows:
        texts = {name: text.replace(b"\n", b"\r\n") for name, text in texts.items()}
    loaded = understood(texts)
    assert loaded.problems == ()
    there, again = planned(loaded, Change("there", tuple(edits_of(loaded.vehicle, new))))
    assert settled(again.vehicle) == settled(new)
    _, back = planned(again, Change("back", tuple(edits_of(again.vehicle, loaded.vehicle))))
    assert settled(back.vehicle) == settled(loaded.vehicle)
    nothing, _ = planned(again, Change("once more", tuple(edits_of(loaded.vehicle, again.vehicle))))
    assert nothing == {}
    for name, (before, now) in there.items():
        if windows and name == "vehicle.toml":
            assert now.count(b"\n") == now.count(b"\r\n")
        assert not (before.endswith(b"\n") and now and not now.endswith(b"\n"))


@SLOW
@given(vehicles(), st.data())
def test_one_new_value_changes_one_place_in_one_file_and_no_comment(vehicle, data):
    loaded = understood({name: with_comments(text, random.Random(1)) for name, text in project_texts(vehicle).items()})
    paths = sorted((path for path in loaded.places if not is_table(loaded.vehicle, path)), key=path_text)
    path = data.draw(st.sampled_from(paths))
    value = other(value_at(loaded.vehicle, path))
    assume(value is not None and path[-1] not in ("low", "high"))  # those two bound each other
    ((_, (old, new)),) = preview(loaded, Change("", (Edit(path, value),))).items()
    codes = [
        code for code in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes() if code[0] != "equal"
    ]
    start, end = min(code[1] for code in codes), max(code[2] for code in codes)
    spot = loaded.places[path]
    text = old.decode("utf-8")
    assert len(text[: spot.start].encode()) <= start
    assert end <= len(text[: text.find("\n", spot.end) % (len(text) + 1)].encode()) + 200
    remarks = [line.partition("#")[2] for line in old.decode().splitlines() if "# remark" in line or "# at" in line]
    assert remarks == [
        line.partition("#")[2] for line in new.decode().splitlines() if "# remark" in line or "# at" in line
    ]


def is_table(vehicle, path):
    return path == () or not isinstance(value_at(vehicle, path), (float, str, bool, Known, Assumed))


def other(value):
    """Another value of the same sort that needs nothing else to be true."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, float):
        return 1.75 if value != 1.75 else 2.75
    if isinstance(value, (Known, Assumed)) and isinstance(value.value, float) and value.value not in (0.125, 0.0):
        return replace(value, value=value.value, low=None, high=None) if value.low is not None else None
    return None


@pytest.mark.parametrize("example", examples())
def test_every_kind_of_edit_of_every_example_reads_back_and_keeps_comments(example, tmp_path):
    start_from_example(tmp_path / "p", example)
    loaded = load(tmp_path / "p")
    for edit in some_edits(loaded.vehicle):
        pairs = preview(loaded, Change("", (edit,)))
        same = edit.value is not None and value_at(loaded.vehicle, edit.path) == edit.value  # a ring turned round
        assert len(pairs) == (0 if same else 1)
        for old, new in pairs.values():
            kept = [line for line in old.decode().splitlines() if line.startswith("#")]
            if edit.value is not None:
                assert sorted(kept) == sorted(line for line in new.decode().splitlines() if line.startswith("#"))


def some_edits(vehicle):
    """A handful of edits of every sort."""
    for name in list(vehicle.places)[:4]:
        yield Edit(("places", name, "x_m"), 0.777)
    for name, component in list(vehicle.components.items())[:4]:
        yield Edit(("components", name, "title"), 'said "so" \\ here')
        for port in component.ports:
            yield Edit(("components", name, "ports", port, "pigtail_m"), Known(0.123, source=Source("tape", "today")))
            yield Edit(("components", name, "ports", port, "node_resistance_ohm"), Unknown("How much?"))
    for name, line in vehicle.lines.items():
        if len(line.stations) > 1:
            yield Edit(("lines", name, "stations"), tuple(reversed(line.stations)))
            yield Edit(("lines", name, "stations", 0), None)
        yield Edit(("lines", name, "bit_rate_bit_per_s"), Known(33_333.0))
