"""What all tests of the server share: a folder of their own, the messages they would have sent, and a shop to work in.

Tests of the library need none of it.
"""

import shutil
import tempfile
from pathlib import Path

import pytest
from celery.signals import before_task_publish
from django.conf import settings

from tests.services import Services


def pytest_configure(config):
    config.pluginmanager.register(Services())


def pytest_unconfigure():
    """Leaves nothing behind."""
    folder = Path(settings.DATA_DIR)
    if folder.parent == Path(tempfile.gettempdir()).resolve() and folder.name.startswith("shop-tests-"):
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def sent_messages():
    """The messages published so far, as [(task name, first argument), ...]."""
    sent = []

    def note(sender=None, body=None, **_):
        sent.append((sender, body[0][0] if body and body[0] else None))

    before_task_publish.connect(note)
    yield sent
    before_task_publish.disconnect(note)
