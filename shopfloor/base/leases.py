"""Work in the background that survives a lost message, a doubled one, and a worker that dies in the middle.

The row that wants work is its own outbox: it waits in state `queued`; a worker *claims* it, which raises its attempt
number and gives it a *lease*; while it works it beats, and each beat prolongs the lease. A result is saved only by the
attempt that still holds the row. The sweep sends a message for every row that waits and puts back every row whose
lease ran out, up to a stated number of attempts; then the row fails with a sentence for people.
"""

import contextlib
import logging
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.db import connection, models, transaction
from django.utils import timezone

log = logging.getLogger(__name__)

RESEND = timedelta(seconds=5)
"""A message not acted on for this long is sent again. Doubled messages cost one look at the row."""


class LeasedWork(models.Model):
    """Columns of a row that workers work on.

    `attempt` rises with each claim and never falls, and so tells a late twin that it is late. `tries` counts the claims
    since a person last asked.
    """

    attempt = models.PositiveIntegerField(default=0, editable=False)
    tries = models.PositiveSmallIntegerField(default=0, editable=False)
    lease_until = models.DateTimeField(null=True, editable=False)
    sent_at = models.DateTimeField(null=True, editable=False)
    queued_at = models.DateTimeField(default=timezone.now, editable=False)
    failure = models.TextField(blank=True, editable=False)

    class Meta:
        abstract = True


@dataclass(frozen=True)
class WorkKind:
    """How one model's rows are worked on.

    `give_up(row, sentence)` moves a row to its failed state, unless another attempt than `row.attempt` holds it by
    then. `at_once` limits how many run at a time, None for no limit.
    """

    model: type[models.Model]
    queued: str
    running: str
    give_up: Callable[[Any, str], object]
    at_once: int | None = None


_senders: dict[WorkKind, Callable[[int], object]] = {}


@dataclass
class Chore:
    """Something to look at every so often; `work` must be harmless when two processes do it at once."""

    work: Callable[[], object]
    every_s: float
    next_at: float = 0.0


_chores: list[Chore] = []


def register(kind: WorkKind, send: Callable[[int], object]) -> None:
    """Makes the sweep look after a model, whose message `send(pk)` publishes; called by each app when it is ready.

    Whoever queues a row does not know the task that works on it: the task leads to the work, and the work to the states
    of the row.
    """
    _senders[kind] = send


def register_chore(work: Callable[[], object], every_s: float) -> None:
    """Makes the sweep do something every so often; called once by each app when it is ready."""
    _chores.append(Chore(work, every_s))


def send_soon(kind: WorkKind, pk: int) -> None:
    """Publishes the message for a row once the transaction is committed.

    A broker that is away is no fault of the request that is being answered: the sweep sends what waits. A broker inside
    the worker process hears nothing from here, so nothing is sent to it.
    """
    if not settings.BROKER_IS_EMBEDDED:
        transaction.on_commit(lambda: _senders[kind](pk), robust=True)


@transaction.atomic
def claim(kind: WorkKind, pk: int) -> Any | None:
    """The row, now running under a new attempt, or None where there is nothing to do: gone, done, taken, or no room."""
    now = timezone.now()
    rows = kind.model.objects  # type: ignore[attr-defined]
    if kind.at_once is not None:
        # One claim at a time, or two would both see the last free place.
        list(rows.select_for_update().filter(state__in=(kind.queued, kind.running)).order_by("pk").values_list("pk"))
    row = rows.filter(pk=pk).first()
    if row is None or row.state != kind.queued:
        return None
    if kind.at_once is not None and rows.filter(state=kind.running, lease_until__gt=now).count() >= kind.at_once:
        return None
    taken = rows.filter(pk=pk, state=kind.queued, attempt=row.attempt).update(
        state=kind.running, attempt=row.attempt + 1, tries=row.tries + 1, lease_until=now + _lease()
    )
    if taken != 1:
        return None
    row.refresh_from_db()
    return row


def still_mine(row: Any, **fields: Any) -> bool:
    """Prolongs the lease of the row's current attempt, setting `fields` with it; False where the row moved on."""
    rows = type(row).objects.filter(pk=row.pk, attempt=row.attempt, state=row.state)
    return rows.update(lease_until=timezone.now() + _lease(), **fields) == 1


@contextlib.contextmanager
def beating(row: Any) -> Iterator[threading.Event]:
    """Keeps the row's lease alive from a thread while the block runs; the event is set when the row is lost."""
    lost, done = threading.Event(), threading.Event()

    def beat() -> None:
        try:
            while not done.wait(settings.LEASE_SECONDS / 4):
                try:
                    if not still_mine(row):
                        lost.set()
                        return
                except Exception:  # the database may be away for a moment; the lease outlasts three beats
                    log.exception("A beat for %s failed; it goes on.", row)
        finally:
            connection.close()

    thread = threading.Thread(target=beat, name=f"beat {row.pk}", daemon=True)
    thread.start()
    try:
        yield lost
    finally:
        done.set()
        thread.join()


@dataclass(frozen=True)
class Waiting:
    """What of one kind waits: how many rows, how many are worked on now, and how long the oldest has waited, in s."""

    noun: str
    count: int
    at_work: int
    oldest_s: float | None


def waiting() -> list[Waiting]:
    """What waits for workers, kind by kind, for those who watch the server."""
    now, found = timezone.now(), []
    for kind in _senders:
        rows = kind.model.objects  # type: ignore[attr-defined]
        queued = rows.filter(state=kind.queued).aggregate(count=models.Count("pk"), oldest=models.Min("queued_at"))
        at_work = rows.filter(state=kind.running, lease_until__gt=now).count()
        oldest_s = max(0.0, (now - queued["oldest"]).total_seconds()) if queued["oldest"] else None
        found.append(Waiting(kind.model._meta.verbose_name, queued["count"], at_work, oldest_s))
    return found


def sweep() -> int:
    """Puts back what lost its worker, and sends a message for whatever waits; how many messages were sent."""
    now, sent = timezone.now(), 0
    for kind, send in _senders.items():
        rows = kind.model.objects  # type: ignore[attr-defined]
        for row in rows.filter(state=kind.running, lease_until__lt=now):
            # One row that cannot be put back must not keep the others waiting.
            try:
                _put_back(kind, row)
            except Exception:
                log.exception("%s %s could not be put back; the next sweep tries again.", kind.model.__name__, row.pk)
        room = None if kind.at_once is None else max(0, kind.at_once - rows.filter(state=kind.running).count())
        waiting = rows.filter(state=kind.queued).exclude(sent_at__gt=now - RESEND).order_by("queued_at", "pk")
        for pk in waiting.values_list("pk", flat=True)[: 100 if room is None else room]:
            rows.filter(pk=pk, state=kind.queued).update(sent_at=now)
            send(pk)
            sent += 1
    for chore in _chores:
        if time.monotonic() >= chore.next_at:
            chore.next_at = time.monotonic() + chore.every_s
            chore.work()
    return sent


@transaction.atomic
def _put_back(kind: WorkKind, row: Any) -> None:
    rows = kind.model.objects  # type: ignore[attr-defined]
    # Looked at again under a lock: a beat may have come since the row was found, and then its worker lives.
    still_lost = {"state": kind.running, "attempt": row.attempt, "lease_until__lt": timezone.now()}
    if rows.select_for_update().filter(pk=row.pk, **still_lost).first() is None:
        return
    if row.tries >= settings.MOST_ATTEMPTS:
        kind.give_up(
            row, f"The worker stopped in the middle, {row.tries} times. Try again; if it stops again, tell us."
        )
        return
    log.warning("%s %s lost its worker at attempt %s and is queued again.", kind.model.__name__, row.pk, row.attempt)
    rows.filter(pk=row.pk).update(state=kind.queued, sent_at=None, lease_until=None)


def _lease() -> timedelta:
    return timedelta(seconds=settings.LEASE_SECONDS)
