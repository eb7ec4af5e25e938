"""The examples of docs/files.md are one project that loads."""

import re
from pathlib import Path

from loomwright.files.load import understood
from loomwright.model.vehicle import LOCK_KINDS
from loomwright.terms.fact import Assumed, Known, Source, Unknown
from tests.files.manual_page import every_key

PAGE = (Path(__file__).parents[2] / "docs" / "files.md").read_text("utf-8")
BLOCKS = re.findall(r"^## ([^\n]+)\n(?:(?!^## ).)*?^```toml\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)


def test_the_examples_load_together():
    texts = {title: text for title, text in BLOCKS if title.endswith(".toml")}
    facts = [text for title, text in BLOCKS if title.startswith("Facts")]
    assert len(facts) == 1
    assert len(texts) + 1 == PAGE.count("```toml")
    texts["components/display.toml"] += facts[0]
    loaded = understood({name: text.encode("utf-8") for name, text in texts.items()})
    assert loaded.problems == ()
    port = loaded.vehicle.components["display"].ports["can"]
    assert port.termination == Known("switchable", source=Source("DP-10 display manual, edition 1", "page 31"))
    assert port.node_resistance_ohm == Known(30e3, 25e3, 40e3, Source("TR-90 data sheet", "table 4"))
    assert port.pigtail_m == Assumed(0.3, "looks like it in the photograph")
    assert port.bit_rates_bit_per_s == Unknown("Can it be set to 500 kbit/s?")
    assert [station.at for station in loaded.vehicle.lines["drive"].stations] == ["", "dash", "", "front"]


def test_every_lock_that_the_page_names_is_one_and_none_is_missing():
    told = PAGE[PAGE.index("A lock says") : PAGE.index("## components/inverter.toml")].replace("\n", " ")
    assert {kind for kind in LOCK_KINDS if f"`{kind}`" in told} == set(LOCK_KINDS)


def test_the_table_of_every_key_is_the_one_that_the_model_makes():
    """Where it is not, put in what ``python -m tests.files.manual_page`` prints."""
    told = PAGE[PAGE.index("## Every key") :]
    assert told[told.index("### ") :].strip() == every_key().strip()
