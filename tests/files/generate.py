"""Hypothesis strategies: TOML texts in many spellings, and whole vehicles."""

from dataclasses import replace

from hypothesis import assume
from hypothesis import strategies as st

from loomwright.model.component import (
    FRAMES,
    IDENTIFIERS,
    PROTOCOLS,
    ROLES,
    TERMINATIONS,
    Component,
    Forward,
    Need,
    Port,
)
from loomwright.model.line import Line, Station
from loomwright.model.message import BYTE_ORDERS, CHECKSUMS, DUTIES, Message, MessageSet, Signal
from loomwright.model.table import Table
from loomwright.model.vehicle import RULE_SETS, Axle, Cable, Chain, Lock, Place, Run, Vehicle
from loomwright.terms.fact import Assumed, Known, Source, Unknown

WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",), exclude_characters="\0"), max_size=12)
BARE = st.from_regex(r"[A-Za-z0-9_-]{1,6}", fullmatch=True)
SPACE = st.sampled_from(["", " ", "  ", "\t"])
COMMENT = st.sampled_from(["", " # remark", '# "quoted" [x] = {}'])


def _basic(text):
    body = "".join(f"\\u{ord(c):04x}" if ord(c) < 0x20 or ord(c) == 0x7F or c in '"\\' else c for c in text)
    return f'"{body}"'


SCALARS = st.one_of(
    WORDS.map(_basic),
    st.from_regex(r"'[ -&(-~]{0,8}'", fullmatch=True),
    st.sampled_from(
        ['"""a\nb "quoted" \\\n   c"""', "'''x\n'y' [z]'''", '"""""two"""""', "1979-05-27 07:32:00", "07:32:00"]
    ),
    st.integers(-999, 10**6).map(str),
    st.floats(allow_nan=False, allow_infinity=False, width=32).map(
        lambda x: repr(float(x)) if "." in repr(float(x)) else "0.5"
    ),
    st.sampled_from(["true", "false", "inf", "-nan", "0x1F", "1_000"]),
)
KEYS = st.one_of(BARE, WORDS.map(_basic), st.from_regex(r"'[a-z. ]{1,5}'", fullmatch=True))


@st.composite
def arrays(draw, inner):
    items = draw(st.lists(inner, max_size=3))
    gap = draw(st.sampled_from([" ", "\n  ", " # in\n "]))
    tail = "," if items and draw(st.booleans()) else ""
    return f"[{gap}{f',{gap}'.join(items)}{tail}{gap}]"


@st.composite
def inline_tables(draw, inner):
    pairs = draw(st.lists(st.tuples(BARE, inner), max_size=3, unique_by=lambda pair: pair[0]))
    return "{ " + ", ".join(f"{key} = {value}" for key, value in pairs) + " }"


VALUES = st.recursive(SCALARS, lambda inner: arrays(inner) | inline_tables(inner), max_leaves=6)


@st.composite
def toml_texts(draw):
    """Texts in many spellings; some are not valid, the caller asks tomllib."""
    lines = []
    ends = draw(st.sampled_from(["\n", "\r\n"]))
    for _ in range(draw(st.integers(0, 8))):
        kind = draw(st.sampled_from(["pair", "pair", "pair", "dotted", "table", "tables", "comment", "blank"]))
        key, space, comment = draw(KEYS), draw(SPACE), draw(COMMENT)
        if kind == "pair":
            lines.append(f"{space}{key}{space}={space}{draw(VALUES)}{space}{comment}")
        elif kind == "dotted":
            lines.append(f"{key}{space}.{space}{draw(KEYS)} = {draw(VALUES)}")
        elif kind == "table":
            lines.append(f"{space}[{space}{key}.{draw(KEYS)}{space}]{comment}")
        elif kind == "tables":
            lines.append(f"[[{key}]]")
        elif kind == "comment":
            lines.append("# only a remark")
        else:
            lines.append("")
    return "\n".join(lines).replace("\n", ends) + draw(st.sampled_from(["", ends]))


NAMES = st.from_regex(r"[a-z][a-z0-9_]{0,7}", fullmatch=True)
TITLES = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",), exclude_characters="\0"), max_size=15)
SIZES = st.floats(0.0, 900.0, allow_nan=False) | st.integers(0, 5000).map(lambda n: n / 100)
POSITIVE = SIZES.filter(bool)
"""Of what cannot be nothing."""
SOURCES = st.none() | st.builds(
    Source, st.sampled_from(["a manual", "another sheet"]), st.sampled_from(["page 3", "table 2"])
)


@st.composite
def numbers(draw, scale=1.0, sizes=SIZES):
    """A numeric fact of any kind."""
    value = draw(sizes) * scale
    assume(value > 0.0 or sizes is SIZES)
    kind = draw(st.sampled_from(["known", "range", "assumed", "unknown"]))
    if kind == "unknown":
        return Unknown(draw(st.sampled_from(["", "What is it?"])))
    if kind == "assumed":
        return Assumed(value, draw(TITLES.filter(str.strip)))
    source = draw(SOURCES)
    if kind == "range":
        low, high = sorted((draw(sizes) * scale, draw(sizes) * scale))
        assume(low > 0.0 or sizes is SIZES)
        middle = draw(st.floats(0.0, 1.0))
        return Known(min(max(low + middle * (high - low), low), high), low, high, source)
    return Known(value, source=source)


def bit_rates():
    """Bit rates as a line may have them."""
    return st.builds(Known, st.sampled_from([125e3, 250e3, 500e3, 1e6, 33_333.0]), source=SOURCES) | st.just(Unknown())


def words(choices):
    known = st.builds(Known, st.sampled_from(choices), source=SOURCES)
    return known | st.builds(Assumed, st.sampled_from(choices), TITLES.filter(str.strip)) | st.just(Unknown())


@st.composite
def ports(draw):
    return Port(
        protocols=draw(st.builds(Known, st.lists(st.sampled_from(PROTOCOLS), min_size=1, max_size=2, unique=True).map(tuple), source=SOURCES)),
        bit_rates_bit_per_s=draw(st.builds(Known, st.lists(st.sampled_from([125e3, 250e3, 1e6, 33333.0]), min_size=1, max_size=3).map(tuple), source=SOURCES) | st.just(Unknown())),
        identifiers=draw(words(IDENTIFIERS)),
        frames=draw(words(FRAMES)),
        termination=draw(words(TERMINATIONS)),
        termination_ohm=draw(numbers(sizes=POSITIVE)),
        pigtail_m=draw(numbers()),
        node_resistance_ohm=draw(numbers(1e3, POSITIVE)),
        node_capacitance_f=draw(numbers(1e-12)),
        needed=draw(st.booleans()),
    )  # fmt: skip


BARE_NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-9, 9).map(float)


@st.composite
def signals(draw):
    bounds = sorted((draw(BARE_NUMBERS), draw(BARE_NUMBERS)))
    named = draw(st.dictionaries(st.integers(0, 0x7FFF), TITLES.filter(str.strip), max_size=2))
    return Signal(
        draw(st.integers(0, 511)),
        draw(st.sampled_from([16, 32])),
        draw(st.sampled_from(BYTE_ORDERS)),
        draw(st.sampled_from(["unsigned", "signed", "float"])),
        draw(BARE_NUMBERS.filter(bool)),
        draw(BARE_NUMBERS),
        draw(TITLES),
        low=draw(st.sampled_from([None, bounds[0]])),
        high=draw(st.sampled_from([None, bounds[1]])),
        values=tuple(f"{value} {name}" for value, name in named.items()),
        duty=draw(st.sampled_from(DUTIES)),
        checksum=draw(st.sampled_from(("", *CHECKSUMS))),
        selects=draw(st.booleans()),
        title=draw(TITLES),
    )


@st.composite
def messages(draw, addresses, states):
    times = st.none() | numbers(1e-3, POSITIVE)
    periodic = draw(st.booleans())
    table = draw(st.dictionaries(NAMES, signals(), max_size=3))
    selector = draw(st.sampled_from([*table, ""]))
    if selector:
        when = draw(st.lists(st.integers(0, 9), min_size=1, max_size=2).map(tuple))
        table["extra"] = Signal(0, 8, selected_by=selector, selected_when=when)
    return Message(
        draw(TITLES),
        draw(st.builds(Known, st.integers(0, 0x7FF), source=SOURCES) | st.just(Unknown())),
        draw(st.sampled_from(["", "11 bit", "29 bit"])),
        draw(st.integers(0, 64)),
        draw(st.sampled_from(["classical", "FD"])),
        draw(st.sampled_from(addresses)),
        draw(st.sampled_from(["", *addresses])),
        draw(times) if periodic else None,
        None if periodic else draw(times),
        draw(numbers(1e-3)),
        states=draw(st.lists(st.sampled_from(states), max_size=2, unique=True).map(tuple)) if states else (),
        programmable=draw(st.booleans()),
        signals=Table(table),
    )


@st.composite
def vehicles(draw):
    """A vehicle whose references all hold."""
    places = draw(
        st.dictionaries(
            NAMES,
            st.builds(Place, SIZES, st.floats(-3, 3), SIZES, TITLES, st.none() | st.booleans()),
            min_size=2,
            max_size=4,
        )
    )
    spots = sorted(places)
    runs = draw(
        st.dictionaries(
            NAMES,
            st.builds(Run, st.just(spots[0]), st.sampled_from(spots[1:]), numbers(), st.none() | numbers()),
            max_size=3,
        )
    )
    components = draw(
        st.dictionaries(
            NAMES,
            st.builds(
                Component,
                st.sampled_from(ROLES),
                st.sampled_from(spots),
                TITLES,
                TITLES,
                st.sampled_from(["", "a manual"]),
                st.dictionaries(NAMES, ports(), max_size=2).map(Table),
            ),
            max_size=3,
        )
    )
    addresses = [f"{name}.{port}" for name, component in components.items() for port in component.ports]
    cables = draw(
        st.dictionaries(
            NAMES,
            st.builds(
                Cable, TITLES, numbers(1e-6, POSITIVE), numbers(), numbers(sizes=POSITIVE), numbers(1e-9), st.booleans()
            ),
            max_size=2,
        )
    )
    stops = [st.builds(Station, terminator_ohm=numbers(sizes=POSITIVE), at=st.sampled_from(spots))]
    if addresses:
        via = st.lists(st.sampled_from(spots), max_size=2, unique=True).map(tuple)
        stops.append(
            st.builds(
                Station,
                st.sampled_from(addresses),
                at=st.sampled_from(["", *spots]),
                via=via,
                section_m=st.none() | SIZES,
                branch_m=st.none() | SIZES,
                terminated=st.booleans(),
            )
        )
    lines = draw(
        st.dictionaries(
            NAMES,
            st.builds(
                Line, TITLES, st.sampled_from(PROTOCOLS), bit_rates(), words(IDENTIFIERS), st.sampled_from(FRAMES[:2]),
                st.sampled_from(["", *cables]), st.sampled_from(["", *RULE_SETS]), st.sampled_from(["", *addresses]),
                st.none() | numbers(1e-9, POSITIVE), stations=st.lists(st.one_of(stops), max_size=4).map(tuple),
                errors_at_once=st.integers(0, 3),
            ),
            max_size=2,
        )
    )  # fmt: skip
    locks = {}
    if addresses:
        locks = draw(
            st.dictionaries(
                NAMES, st.builds(Lock, st.sampled_from(addresses), st.just("be at an end"), why=TITLES), max_size=2
            )
        )
    states = draw(st.lists(NAMES, max_size=2, unique=True).map(tuple))
    sets = {}
    if addresses:
        inside = st.dictionaries(NAMES, messages(addresses, states), max_size=2).map(Table)
        made = st.builds(
            MessageSet,
            TITLES,
            st.sampled_from(["", "a manual"]),
            sender=st.sampled_from(["", *addresses]),
            messages=inside,
        )
        sets = draw(st.dictionaries(NAMES, made, max_size=2))
    spoken = [f"{name}.{message}" for name, inner in sets.items() for message in inner.messages]
    if spoken:
        name = draw(st.sampled_from(sorted(components)))
        needs = draw(
            st.dictionaries(
                NAMES,
                st.builds(Need, st.sampled_from(spoken), TITLES, fresh_s=st.none() | numbers(1e-3, POSITIVE)),
                max_size=2,
            )
        )
        components[name] = replace(components[name], needs=Table(needs))
        if port := next(iter(components[name].ports), ""):
            passed = draw(
                st.dictionaries(NAMES, st.builds(Forward, st.sampled_from(spoken), st.just(port)), max_size=1)
            )
            components[name] = replace(components[name], forwards=Table(passed))
    chains = (
        st.builds(
            Chain,
            st.lists(st.sampled_from(spoken), min_size=1, max_size=3).map(tuple),
            st.sampled_from(sorted(components)),
        )
        if spoken
        else st.nothing()
    )
    return Vehicle(
        draw(TITLES.filter(str.strip)), draw(POSITIVE), draw(POSITIVE), tuple(draw(st.lists(st.builds(Axle, SIZES, POSITIVE), max_size=2))),
        rule_set=draw(st.sampled_from(RULE_SETS)), places=Table(places), runs=Table(runs), cables=Table(cables),
        locks=Table(locks), components=Table(components), lines=Table(lines),
        states=states, messages=Table(sets), chains=Table(draw(st.dictionaries(NAMES, chains, max_size=1 if spoken else 0))),
    )  # fmt: skip
