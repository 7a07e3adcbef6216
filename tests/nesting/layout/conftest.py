"""What the tests of layout share: engines that misbehave, and places to note what was reported."""

from pathlib import Path

import pytest


@pytest.fixture
def fake_engines(monkeypatch):
    """Lets a child process import the engines of `engine_calls`."""
    monkeypatch.syspath_prepend(str(Path(__file__).parent / "engine_calls"))
