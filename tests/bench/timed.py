"""One run of one way to lay a job, in a process of its own, with the wall and processor seconds that it took."""

import json
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

WAYS = ("ours", "packingsolver", "spyrrow")
MODULES = {
    "ours": "tests.bench.ours",
    "packingsolver": "tests.bench.one_library",
    "spyrrow": "tests.bench.one_library",
    "bars-library": "tests.bench.bars_library",
}

MERCY = 120.0
"""Seconds over its budget after which a way that does not end is killed."""


@dataclass(frozen=True)
class Outcome:
    wall: float
    cpu: float
    sheets: int
    span: float
    share: float
    faults: tuple[str, ...] = ()
    area: float | str = "-"
    bound: float | str = "-"

    COMPARED: ClassVar = ("span", "sheets", "cpu")

    @property
    def is_valid(self):
        return not self.faults


def run(way, file, seconds, seed):
    """The nest that the way made (None where it made none), wall and processor seconds, and its last words.

    Processor seconds are those of the process and of everything it started and waited for.
    """
    with tempfile.TemporaryDirectory() as folder:
        answer, chatter = Path(folder) / "nest.json", Path(folder) / "chatter"
        started_at = time.monotonic()
        with chatter.open("wb") as words:
            child = subprocess.Popen(
                [sys.executable, "-m", MODULES[way], way, str(file), str(seconds), str(seed), str(answer)],
                stdout=words,
                stderr=words,
                stdin=subprocess.DEVNULL,
            )
            while (ended := os.wait4(child.pid, os.WNOHANG))[0] == 0:
                if time.monotonic() - started_at > seconds + MERCY:
                    child.kill()
                time.sleep(0.02)
            child.returncode = os.waitstatus_to_exitcode(ended[1])
        wall, used = time.monotonic() - started_at, ended[2]
        nest = json.loads(answer.read_text()) if answer.exists() else None
        return nest, wall, used.ru_utime + used.ru_stime, chatter.read_text(errors="replace").strip()[-300:]
