"""Projects that several files of tests begin with; a file may have its own of the same name."""

import pytest

from loomwright.app.session import Session
from loomwright.app.start import start, start_from_example


@pytest.fixture
def tipper(tmp_path):
    start_from_example(tmp_path / "tipper", "tipper")
    return Session(tmp_path / "tipper")


@pytest.fixture
def begun(tmp_path):
    start(tmp_path / "new", "Cart", 4.0, 1.6, (0.8, 3.1))
    return Session(tmp_path / "new")
