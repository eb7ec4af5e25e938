"""Renaming, doubling and taking out a component with everything it says, on every shipped example."""

import pytest

from loomwright.app.edits.components import duplicate_component, remove_component, rename_component
from loomwright.app.edits.names import EditError
from loomwright.app.edits.spoken import rename_message
from loomwright.app.start import start_from_example
from loomwright.files import load
from loomwright.files.change import preview
from loomwright.files.load import understood
from loomwright.model.variant import changed

EXAMPLES = ("tipper", "minibus", "bench")


@pytest.fixture(scope="module", params=EXAMPLES)
def loaded(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("said") / request.param
    start_from_example(folder, request.param)
    return load(folder)


def components(vehicle):
    """The gateway, and every third of the others: each kind of reference is among them."""
    talkers = sorted({name for name, one in vehicle.components.items() if one.forwards})
    return [*talkers, *[name for name in vehicle.components if name not in talkers][::3]]


def written(loaded, change):
    texts = {**loaded.texts, **{name: new for name, (_, new) in preview(loaded, change).items()}}
    return understood({name: text for name, text in texts.items() if text})


def test_a_renamed_component_still_says_and_needs_everything(loaded):
    vehicle = loaded.vehicle
    for name in components(vehicle):
        again = written(loaded, rename_component(vehicle, name, "quite_another"))
        assert again.problems == ()
        back = changed(again.vehicle, rename_component(again.vehicle, "quite_another", name))
        assert (back.messages, back.chains) == (vehicle.messages, vehicle.chains)
        assert again.vehicle.components["quite_another"].needs == vehicle.components[name].needs


def test_a_removed_component_takes_along_what_it_says_and_leaves_nothing_dangling(loaded):
    vehicle = loaded.vehicle
    for name in components(vehicle):
        again = written(loaded, remove_component(vehicle, name))
        assert again.problems == ()
        senders = {
            one.sender or whole.sender for whole in again.vehicle.messages.values() for one in whole.messages.values()
        }
        assert not any(port.startswith(f"{name}.") for port in senders)


def test_a_double_passes_nothing_on(loaded):
    for name in components(loaded.vehicle)[:2]:
        again = written(loaded, duplicate_component(loaded.vehicle, name, "a_double"))
        assert again.problems == ()
        assert not again.vehicle.components["a_double"].forwards


def test_a_renamed_message_is_followed_by_needs_forwards_chains_and_deviations(loaded):
    vehicle = loaded.vehicle
    steps = {step for chain in vehicle.chains.values() for step in chain.steps}
    passed = {forward.message for one in vehicle.components.values() for forward in one.forwards.values()}
    needed = {
        ".".join(need.signal.split(".")[:2]) for one in vehicle.components.values() for need in one.needs.values()
    }
    for name in sorted({*sorted(steps)[:3], *sorted(passed)[:3], *sorted(needed)[:3]}):
        file, _, own = name.partition(".")
        again = written(loaded, rename_message(vehicle, file, own, "quite_another"))
        assert again.problems == ()
        said = repr((again.vehicle.components, again.vehicle.chains))
        assert f"'{name}'" not in said
        assert f"'{name}." not in said
        assert again.vehicle.messages[file].messages["quite_another"] == vehicle.messages[file].messages[own]
        back = changed(again.vehicle, rename_message(again.vehicle, file, "quite_another", own))
        assert (back.components, back.chains) == (vehicle.components, vehicle.chains)


def test_a_renamed_message_keeps_its_place_and_its_comments_in_the_file(loaded):
    vehicle = loaded.vehicle
    file, messages = next(iter(vehicle.messages.items()))
    own = next(iter(messages.messages))
    change = rename_message(vehicle, file, own, "quite_another")
    old, new = preview(loaded, change)[f"messages/{file}.toml"]
    assert new == old.replace(f"[messages.{own}]".encode(), b"[messages.quite_another]").replace(
        f"[messages.{own}.".encode(), b"[messages.quite_another."
    )


def test_a_message_cannot_take_a_name_that_is_there_or_is_none(loaded):
    vehicle = loaded.vehicle
    file, messages = next((file, one) for file, one in vehicle.messages.items() if len(one.messages) > 1)
    first, second = list(messages.messages)[:2]
    with pytest.raises(EditError, match="already"):
        rename_message(vehicle, file, first, second)
    with pytest.raises(EditError, match="small letters"):
        rename_message(vehicle, file, first, "Not a name")
