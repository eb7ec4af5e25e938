"""The design tokens of `tokens.css`, given to drawings: page, drawing and paper match because there is one list."""

import re
from functools import cache
from importlib.resources import files

#: A vehicle with more lines than hues starts again with dashes.
HUES = 6

_DECLARATION = re.compile(r"--([a-z0-9-]+):\s*([^;]+);")
_USE = re.compile(r"var\(--([a-z0-9-]+)\)")


@cache
def _css(name: str) -> str:
    return (files("loomwright.show") / name).read_text("utf-8")


@cache
def _blocks() -> tuple[str, ...]:
    """The bodies of the three token blocks: light, dark by system setting, dark by choice."""
    return tuple(re.findall(r":root[^{]*\{([^}]*)\}", _css("tokens.css")))


def light() -> dict[str, str]:
    """Every token on light ground, name without dashes to value."""
    return dict(_DECLARATION.findall(_blocks()[0]))


def dark() -> dict[str, str]:
    """Every token on dark ground; what the dark blocks do not name stays as on light ground."""
    return light() | dict(_DECLARATION.findall(_blocks()[1]))


@cache
def drawing_style() -> str:
    """The style of a drawing that stands alone.

    The tokens are put in as plain values, because many programs that show SVG know no custom properties; dark values
    hold on a screen that asks for them, never on paper.
    """
    return f"{_filled(light())}\n@media screen and (prefers-color-scheme: dark) {{\n{_filled(dark())}\n}}\n"


@cache
def _rules() -> tuple[tuple[str, str], ...]:
    css = re.sub(r"/\*.*?\*/", "", _css("drawing.css"), flags=re.DOTALL)
    return tuple((head.strip(), body.strip()) for head, body in re.findall(r"([^{}]+)\{([^}]*)\}", css))


def _filled(tokens: dict[str, str]) -> str:
    def value(use: re.Match[str]) -> str:
        return tokens[use.group(1)]

    return "\n".join(f"{head} {{ {_USE.sub(value, body)} }}" for head, body in _rules())


def hue(index: int) -> tuple[int, bool]:
    """Number of the hue (from 1) for a line's place in the list, and whether it is dashed."""
    return index % HUES + 1, index // HUES % 2 == 1
