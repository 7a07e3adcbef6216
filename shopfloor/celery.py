"""The Celery app, and the sweep that makes the database row and not the message the truth.

A message only says "look at row 7". Whether it is lost, doubled or late changes nothing: the sweep sends a new one for
every row that waits, and a row is worked on only by whoever claims it (`base.leases`). With a broker inside the worker
process the sweep runs in a thread there; with Redis, beat starts it.
"""

import logging
import os
import threading

from celery import Celery
from celery.signals import worker_ready, worker_shutting_down

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopfloor.settings")

app = Celery("shopfloor")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.conf.beat_schedule = {"sweep": {"task": "shopfloor.base.tasks.sweep", "schedule": 2.0, "options": {"expires": 10}}}

log = logging.getLogger(__name__)
_stopping = threading.Event()


@worker_ready.connect
def start_sweeping(**_: object) -> None:
    """Starts the sweep thread where no beat process can reach this worker's own broker."""
    from django.conf import settings

    if settings.BROKER_IS_EMBEDDED:
        _stopping.clear()
        threading.Thread(target=_sweep_until_stopped, name="sweep", daemon=True).start()


@worker_shutting_down.connect
def stop_sweeping(**_: object) -> None:
    _stopping.set()


def _sweep_until_stopped() -> None:
    from django.db import close_old_connections

    from shopfloor.base.leases import sweep

    while not _stopping.wait(0.5):
        try:
            close_old_connections()
            sweep()
        except Exception:  # the database may be away for a while; the next round tries again
            log.exception("The sweep failed; it goes on.")
