"""Which samples of a waveform are worth drawing."""

import numpy as np

from loomwright.app.signal_wave import BLOCK, MOVES_V, moving


def test_a_flat_waveform_keeps_a_sample_of_each_block_and_the_last():
    assert moving([[1.0] * 95]) == [*range(0, 95, BLOCK), 94]


def test_where_anything_moves_every_sample_is_kept_and_nothing_else_is_lost():
    time = np.arange(400)
    ringing = np.where(time < 130, 0.0, np.exp(-(time - 130) / 20.0) * np.sin(time))
    kept = moving([[2.0] * 400, ringing.tolist()])
    assert set(range(130, 180)) <= set(kept)
    assert len(kept) < 300
    drawn = np.interp(time, kept, ringing[kept])
    assert np.abs(drawn - ringing).max() <= MOVES_V


def test_a_step_from_one_block_to_the_next_is_not_smeared():
    step = [0.0] * BLOCK + [1.0] * 30
    assert BLOCK - 1 in moving([step])
