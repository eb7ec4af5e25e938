"""Beginning, changing and taking out chains, written into the files and undone."""

import pytest

from loomwright.app import edits
from loomwright.app.edits.names import EditError
from loomwright.app.messages_chains import chain_choices, chain_strips
from loomwright.app.session import Session
from loomwright.app.start import start_from_example
from loomwright.terms.fact import Known, Unknown

PEDAL, TORQUE = "pedal.travel", "controller_drive.torque_command"


@pytest.fixture
def session(tmp_path):
    start_from_example(tmp_path / "p", "tipper-as-found")
    return Session(tmp_path / "p")


@pytest.fixture
def vehicle(session):
    return session.view().vehicle


def text(session):
    return (session.folder / "vehicle.toml").read_bytes()


def test_a_chain_is_begun_written_answered_and_undone_as_one_step(session, vehicle):
    before = text(session)
    name, change = edits.add_chain(vehicle, "Foot to wheels", [PEDAL, "", TORQUE], "inverter", "80 ms")
    session.apply(change)
    chain = session.view().vehicle.chains[name]
    assert (name, chain.steps, chain.effect) == ("foot_to_wheels", (PEDAL, TORQUE), "inverter")
    assert chain.within_s == Known(0.08)
    (strip,) = [each for each in session.ask(chain_strips) if each.name == name]
    (twin,) = [each for each in session.ask(chain_strips) if each.name == "pedal_to_torque"]
    assert (strip.reaction, strip.verdict) == (twin.reaction, "holds")
    session.undo()
    assert text(session) == before


@pytest.mark.parametrize("words", ["", "?"])
def test_a_chain_whose_time_nobody_knows_yet_asks_for_it(vehicle, words):
    _, change = edits.add_chain(vehicle, "Foot to wheels", [PEDAL], "vehicle_controller", words)
    assert isinstance(change.edits[0].value.within_s, Unknown)


def test_everything_that_is_wrong_with_a_chain_is_told_at_once_with_its_place(vehicle):
    with pytest.raises(EditError) as refused:
        edits.add_chain(vehicle, " ", [PEDAL, "nobody.nothing", "inverter.torque_command", PEDAL], "winch", "soon")
    told = str(refused.value)
    for words in (
        "needs a name", "Step 2: there is no message \'nobody.nothing\'", "Step 3: inverter.torque_command is what",
        "Step 4: pedal.travel is a step of this chain already", "no component \'winch\'", "soon",
    ):  # fmt: skip
        assert words in told
    assert refused.value.field == "title"
    with pytest.raises(EditError, match=r"begins with a message.*ends with the component"):
        edits.add_chain(vehicle, "A", [], "")


def test_steps_are_set_added_moved_and_taken_out(session):
    def steps(change):
        session.apply(change)
        return session.view().vehicle.chains["pedal_to_torque"].steps

    def vehicle():
        return session.view().vehicle

    before = text(session)
    name, state = "pedal_to_torque", "inverter.motion"
    assert steps(edits.set_step(vehicle(), name, 2, state)) == (PEDAL, TORQUE, state)
    assert steps(edits.move_step(vehicle(), name, 2)) == (PEDAL, state, TORQUE)
    assert steps(edits.remove_step(vehicle(), name, 0)) == (state, TORQUE)
    assert steps(edits.set_step(vehicle(), name, 0, PEDAL)) == (PEDAL, TORQUE)
    assert text(session) == before
    for _ in range(4):
        session.undo()
    assert text(session) == before


def test_steps_that_cannot_be_are_refused_with_their_number(vehicle):
    name = "pedal_to_torque"
    for change, told in (
        (lambda: edits.set_step(vehicle, name, 1, "nobody.nothing"), "step 2: there is no message"),
        (lambda: edits.set_step(vehicle, name, 1, f"{TORQUE}.enable"), "step 2: there is no message"),
        (lambda: edits.set_step(vehicle, name, 1, PEDAL), "step 2: pedal.travel is a step"),
        (lambda: edits.set_step(vehicle, name, 7, PEDAL), "no step 8"),
        (lambda: edits.move_step(vehicle, name, 0), "step 1 .* cannot stand earlier"),
        (lambda: edits.remove_step(vehicle, name, 5), "no step 6"),
        (lambda: edits.remove_chain(vehicle, "nothing"), "no chain 'nothing'"),
    ):
        with pytest.raises(EditError, match=told):
            change()


def test_the_last_step_stays_and_the_chain_goes_as_a_whole(session):
    session.apply(edits.remove_step(session.view().vehicle, "pedal_to_torque", 1))
    with pytest.raises(EditError, match="remove the whole chain"):
        edits.remove_step(session.view().vehicle, "pedal_to_torque", 0)
    session.apply(edits.removal(session.view().vehicle, ("chains", "pedal_to_torque")))
    assert "pedal_to_torque" not in session.view().vehicle.chains
    assert b"chains.pedal_to_torque" not in text(session)


def test_a_chain_is_offered_only_messages_that_somebody_sends(vehicle):
    offered = {key for _, messages in chain_choices(vehicle).messages for key, _ in messages}
    assert {PEDAL, TORQUE} <= offered
    assert "inverter.torque_command" not in offered
    assert "display.trip" not in offered
