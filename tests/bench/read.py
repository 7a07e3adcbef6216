"""Reading of STEP models: seconds and memory of each file of the fixtures, or of a folder, through the route.

Files are read one after the other by one process, as a worker does it. The first file of a process also starts the one
that has the geometry kernel loaded; its time is told apart. Memory is the most that a child, or the process that it is
forked from, had filled at any moment; what both share is counted in each.
"""

import os
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

from nesting import route, sandbox_warm
from tests.tube_fixtures import FIXTURES

ENDINGS = route.STEP_ENDINGS


def add_to(parsers):
    read = parsers.add_parser("read", help="seconds and memory of reading STEP models")
    read.add_argument("folder", type=Path, nargs="?", help="a folder of STEP files; the fixtures where left out")
    read.add_argument("--rounds", type=int, default=3)
    read.set_defaults(run=run_all)


def run_all(given):
    with tempfile.TemporaryDirectory() as folder:
        files = _given(given.folder) if given.folder else _fixtures(Path(folder))
        if not files:
            print(f"{given.folder}: no STEP file there.", file=sys.stderr)
            return 2
        memory = _Memory()
        first, _ = _timed(files[0])
        taken, kinds = {}, {}
        for _ in range(given.rounds):
            for file in files:
                seconds, kinds[file.name] = _timed(file)
                taken.setdefault(file.name, []).append(seconds)
        memory.stop()
        sandbox_warm.end_all()
    medians = {name: statistics.median(some) for name, some in taken.items()}
    print("file", "kind", "s", sep="\t")
    for name in sorted(medians, key=medians.get, reverse=True)[:5]:
        print(name, kinds[name], f"{medians[name]:.3f}", sep="\t")
    every = [seconds for some in taken.values() for seconds in some]
    print()
    print(f"{len(files)} files, {given.rounds} rounds; the first file of the process took {first:.2f} s")
    print(
        f"median {statistics.median(every):.3f} s, longest {max(every):.3f} s, most memory {memory.most / 2**20:.0f} MB"
    )
    read = sum(kind != "refused" for kind in kinds.values())
    print(f"{read} of {len(files)} read, {len(files) - read} refused")
    return 0


def _timed(file):
    started_at = time.monotonic()
    reading = route.read_drawing(file)
    return time.monotonic() - started_at, reading.kind


def _given(folder):
    return sorted(file for file in folder.rglob("*") if file.suffix.casefold() in ENDINGS)


def _fixtures(folder):
    return [fixture.write(folder / f"{fixture.name}.step") for fixture in FIXTURES]


class _Memory:
    """The most resident memory of any process that this one started, looked at a hundred times a second."""

    def __init__(self):
        self.most = 0
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def stop(self):
        self._stopped.set()
        self._thread.join()

    def _look(self):
        while not self._stopped.wait(0.01):
            for pid in _descendants(os.getpid()):
                try:
                    status = Path(f"/proc/{pid}/status").read_text()
                except OSError:
                    continue
                if "VmHWM:" in status:
                    self.most = max(self.most, int(status.partition("VmHWM:")[2].split()[0]) * 2**10)


def _descendants(pid):
    try:
        children = [
            child for task in Path(f"/proc/{pid}/task").iterdir() for child in (task / "children").read_text().split()
        ]
    except OSError:
        return
    for child in children:
        yield child
        yield from _descendants(child)
