"""The table of every key in docs/files.md, made from the model's annotations. Run as a module it prints the table."""

from loomwright.files.render import plain_keys, toml
from loomwright.files.schema import shape_of
from loomwright.model.component import Component
from loomwright.model.line import Line
from loomwright.model.message import MessageSet
from loomwright.model.vehicle import Vehicle
from loomwright.terms.fact import Assumed, Unknown

FILES = (
    ("vehicle.toml", Vehicle),
    ("components/NAME.toml", Component),
    ("lines/NAME.toml", Line),
    ("messages/NAME.toml", MessageSet),
)


def every_key():
    """Sections of Markdown, one for each table that a file may have."""
    return "\n".join(section for file, cls in FILES for section in sections(file, cls, ""))


def sections(file, cls, header):
    yield f"### {file}{f', `{header}`' if header else ''}\n"
    yield "| key | is | for example | left out |\n|---|---|---|---|"
    if cls is Vehicle:
        yield "| `format` | Version of this file format | `1` | needed |"
    for slot in shape_of(cls).slots.values():
        choices = slot.item.field.choices
        shown = ", ".join(f"`{choice}`" for choice in choices) if choices else f"`{slot.example}`"
        mark = " *" if slot.fact else ""
        yield f"| `{slot.key}`{mark} | {slot.item.field.meaning} | {shown} | {left_out(slot)} |"
    yield ""
    for key, inner in shape_of(cls).lists.items():
        yield from sections(file, inner, f"[[{key}]]")
    for key, inner in shape_of(cls).tables.items():
        inside = f"{header[1:-1]}." if header else ""
        yield from sections(file, inner, f"[{inside}{key}.NAME]")


def left_out(slot):
    """What the program takes where the key is not there."""
    default = slot.item.default
    if slot.item.required:
        return "needed"
    if isinstance(default, Unknown):
        return "unknown"
    if default in (None, "", ()):
        return "nothing"
    value = toml(plain_keys(slot, default, "")[slot.key])
    return f"assumed `{value}`: {default.why}" if isinstance(default, Assumed) else f"`{value}`"


if __name__ == "__main__":
    print(every_key())  # noqa: T201  (that is what it is for)
