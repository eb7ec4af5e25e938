"""What things are called when they are spoken of."""

from loomwright.model.component import Component


def component_title(name: str, component: Component | None) -> str:
    """What people call a component; its name in the files where it has no title."""
    return (component.title if component else "") or spoken(name)


def spoken(name: str) -> str:
    """A name of the files as a word: ``coolant_pump`` is ``Coolant pump``."""
    return name.replace("_", " ").capitalize()
