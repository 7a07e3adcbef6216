"""When a worker last did a piece of the sweep, kept as the time stamp of one file in the data folder.

A file, because every process of the server shares that folder for the drawings anyway, and because it still tells the
truth where the database does not answer.
"""

import os
import time
from pathlib import Path

from django.conf import settings

MARK_EVERY_S = 5.0


def _file() -> Path:
    return Path(settings.DATA_DIR) / "worker-seen"


def mark_worker_seen() -> None:
    """Notes that a worker is at work; a chore of the sweep."""
    file = _file()
    file.touch()
    os.utime(file)


def worker_seen_s() -> float | None:
    """Seconds since a worker was last seen; None where none ever was."""
    try:
        return max(0.0, time.time() - _file().stat().st_mtime)
    except FileNotFoundError:
        return None
