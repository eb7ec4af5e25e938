import itertools
import math
import re
from importlib.resources import files

import pytest

from loomwright.show import tokens

FOLDER = files("loomwright.show")
TEXT = ("ink", "muted", "copper", "holds", "tight", "broken", "unknown", *(f"line-{n}" for n in range(1, 7)))


def linear(colour):
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    return [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]


def contrast(one, two):
    """Contrast ratio of WCAG 2.1, section 1.4.3."""
    light, dark = sorted(
        (sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear(x), strict=True)) for x in (one, two)), reverse=True
    )
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("ground", [tokens.light(), tokens.dark()], ids=["light", "dark"])
def test_every_colour_of_words_has_aa_contrast_on_paper_and_sheet(ground):
    low = {(name, on): contrast(ground[name], ground[on]) for name in TEXT for on in ("paper", "sheet")}
    assert {key: ratio for key, ratio in low.items() if ratio < 4.5} == {}


#: Linear-light matrices of Machado, Oliveira and Fernandes (2009), severity 1.0; from memory.
SEEN = {
    "all cones": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protan": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deutan": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
}


def lab(linear_rgb):
    r, g, b = (min(1.0, max(0.0, part)) for part in linear_rgb)
    x, y, z = (
        0.4124 * r + 0.3576 * g + 0.1805 * b,
        0.2126 * r + 0.7152 * g + 0.0722 * b,
        0.0193 * r + 0.1192 * g + 0.9505 * b,
    )
    fx, fy, fz = (t ** (1 / 3) if t > 0.008856 else 7.787 * t + 16 / 116 for t in (x / 0.95047, y, z / 1.08883))
    return 116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)


@pytest.mark.parametrize("ground", [tokens.light(), tokens.dark()], ids=["light", "dark"])
@pytest.mark.parametrize("eyes", SEEN)
def test_line_hues_stay_apart_for_every_kind_of_colour_vision(ground, eyes):
    seen = [
        lab([sum(m * c for m, c in zip(row, linear(ground[f"line-{n}"]), strict=True)) for row in SEEN[eyes]])
        for n in range(1, tokens.HUES + 1)
    ]
    assert min(math.dist(a, b) for a, b in itertools.combinations(seen, 2)) > 15.0  # CIE76 difference


def test_both_dark_blocks_say_the_same():
    css = (FOLDER / "tokens.css").read_text("utf-8")
    blocks = [re.findall(r"--([a-z0-9-]+):\s*([^;]+);", block) for block in re.findall(r":root[^{]*\{([^}]*)\}", css)]
    assert len(blocks) == 3
    assert blocks[1] == blocks[2]
    assert {name for name, _ in blocks[1]} <= {name for name, _ in blocks[0]}


def test_the_style_of_a_drawing_leaves_no_variable_open_and_knows_the_dark():
    style = tokens.drawing_style()
    assert "var(" not in style
    assert "prefers-color-scheme: dark" in style
    assert tokens.light()["line-1"] in style
    assert tokens.dark()["line-1"] in style


def test_every_token_that_a_drawing_uses_exists():
    used = set(re.findall(r"var\(--([a-z0-9-]+)\)", (FOLDER / "drawing.css").read_text("utf-8")))
    assert used <= tokens.light().keys()


def test_every_font_file_is_there_with_its_licence():
    css = (FOLDER / "fonts" / "fonts.css").read_text("utf-8")
    named = set(re.findall(r'url\("([^"]+)"\)', css))
    assert named
    for name in named:
        assert (FOLDER / "fonts" / name).read_bytes()[:4] == b"wOF2"
    for licence in ("inter-LICENSE", "jetbrains-mono-LICENSE"):
        assert "SIL Open Font License" in (FOLDER / "fonts" / licence).read_text("utf-8")


def test_hues_start_again_with_dashes():
    assert tokens.hue(0) == (1, False)
    assert tokens.hue(tokens.HUES) == (1, True)
