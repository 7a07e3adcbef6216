"""A real worker process is killed in the middle of a nest; the database and the broker are those of the run."""

import os
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path
from urllib.parse import quote

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

from shopfloor.base.management.commands.up import WORKER_ARGS
from shopfloor.planning.models import Nest, NestState
from shopfloor.stock.models import StockItem
from tests.ledger import assert_all_agrees

ROOT = Path(__file__).resolve().parents[3]
PATIENCE_S = 240
"""For a slow computer; nothing is asserted about time."""


def address_of_the_tests_database():
    """The database of the running tests as `DATABASE_URL`."""
    stated = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{quote(str(stated['NAME']))}"
    who = f"{quote(stated['USER'])}:{quote(stated['PASSWORD'])}"
    return f"postgres://{who}@{stated['HOST']}:{stated['PORT'] or 5432}/{quote(stated['NAME'])}"


class Worker:
    """A worker with its sweep, in a process group of its own. What it says goes to a file."""

    def __init__(self, folder):
        self.folder, self.log = folder, folder / "log"
        embedded = settings.WORKERS_BROKER_URL.startswith("memory:")
        # With a broker inside the worker the sweep is a thread there. With Redis beat sends it, here from the worker.
        pool = () if embedded else ("--pool=prefork", "--beat", f"--schedule={folder}/beat", "--pidfile=")
        environment = {
            **{name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"},
            "DATABASE_URL": address_of_the_tests_database(),
            "BROKER_URL": settings.WORKERS_BROKER_URL,
            "SHOP_DATA": str(folder),
            "PYTHONPATH": str(ROOT),
        }
        with open(self.log, "ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "tests.shopfloor.planning.held_worker", str(folder), *WORKER_ARGS[2:], *pool],
                env=environment,
                cwd=ROOT,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )

    def until(self, condition, what):
        deadline = time.monotonic() + PATIENCE_S
        while not condition():
            assert self.process.poll() is None, f"The worker ended. It said:\n{self.log.read_text()}"
            assert time.monotonic() < deadline, f"No {what}. It said:\n{self.log.read_text()}"
            time.sleep(0.05)

    def until_at_work(self):
        """Until its engine is at work; then the process that the engine is in."""
        self.until((self.folder / "at-work").exists, "engine at work")
        return int((self.folder / "at-work").read_text())

    def kill(self):
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


@pytest.fixture
def worker(tmp_path):
    """`worker()` starts one; all are killed when the test ends."""
    started = []

    def start():
        started.append(Worker(tmp_path))
        return started[-1]

    yield start
    for each in started:
        each.kill()


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_a_nest_whose_worker_is_killed_is_laid_out_once_by_the_next(shop, worker, tmp_path):
    item = shop.sheets(on_hand=3, length_mm=130, width_mm=90)
    line = shop.line(3)
    nest = shop.ask(line)

    first = worker()
    pid = first.until_at_work()
    assert os.getpgid(pid) == first.process.pid
    nest.refresh_from_db()
    assert (nest.state, nest.attempt) == (NestState.LAYING, 1)
    assert nest.lease_until is not None
    first.kill()
    # It said nothing when it died: the nest is still its own, and so are the pieces.
    nest.refresh_from_db()
    line.refresh_from_db()
    assert (nest.state, nest.attempt, line.planned_count, line.open_count) == (NestState.LAYING, 1, 3, 0)
    assert_all_agrees()

    # In place of waiting until the lease has run out.
    Nest.objects.update(lease_until=timezone.now() - timedelta(seconds=1))
    (tmp_path / "at-work").unlink()
    second = worker()
    second.until_at_work()
    nest.refresh_from_db()
    assert (nest.state, nest.attempt, nest.tries) == (NestState.LAYING, 2, 2)
    (tmp_path / "go-on").touch()
    second.until(lambda: Nest.objects.get(pk=nest.pk).state != NestState.LAYING, "end of the nest")
    nest.refresh_from_db()
    line.refresh_from_db()
    item.refresh_from_db()
    assert (nest.state, nest.failure, nest.placed_count) == (NestState.READY, "", 3)
    assert (line.nested_count, line.planned_count, line.open_count) == (3, 0, 0)
    assert sum(layout.copies for layout in nest.layouts.all()) == item.reserved == 3
    assert StockItem.objects.count() == 1
    assert_all_agrees()
