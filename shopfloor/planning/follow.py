"""Follows a nest while it is laid out: tells its page of the best nest so far, and hears when to stop.

Engines report and ask from threads of their own, and often. They touch only what lies in memory here; one thread that
belongs to the nest does the talking to the database. What goes wrong in it costs a picture, never the nest.
"""

import contextlib
import logging
import threading
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from django.db import connection
from django.utils import timezone

from nesting import route
from nesting.model.filled import filled_count
from nesting.model.nest import Nest as NestNoun
from nesting.model.nest import SheetNest
from shopfloor.base.leases import still_mine
from shopfloor.planning.models import Nest, NestState

LOOK_EVERY_S = 0.25
"""How often the page gets a better picture and a stop is heard: at once, for a person."""

log = logging.getLogger(__name__)


class Following:
    """What the engine is handed: `show` for each better nest, `should_stop` to ask; both from any thread."""

    def __init__(self, nest: Nest, lost: threading.Event) -> None:
        self._nest = nest
        self._lost = lost
        self._stop = threading.Event()
        self._newest: NestNoun | None = None
        self._first_at: datetime | None = None

    def show(self, best: NestNoun) -> None:
        self._first_at = self._first_at or timezone.now()
        self._newest = best

    def should_stop(self) -> bool:
        return self._stop.is_set() or self._lost.is_set()

    def look(self) -> None:
        """One round: hears whether to stop, and tells of the newest nest if it was not told yet."""
        if not self._stop.is_set() and _stop_asked(self._nest):
            self._stop.set()
        best, self._newest = self._newest, None
        if best is not None and not self.should_stop():
            still_mine(self._nest, first_at=self._first_at, **_told(self._nest, best))


@contextlib.contextmanager
def following(nest: Nest, lost: threading.Event) -> Iterator[Following]:
    """Follows the nest, as claimed, from a thread for as long as the block runs. `lost` says that another has it."""
    follow, done = Following(nest, lost), threading.Event()

    def look_until_done() -> None:
        try:
            while not done.wait(LOOK_EVERY_S):
                try:
                    follow.look()
                except Exception:  # the database may be away for a moment, or a picture fail; the nest goes on
                    log.exception("Following %s failed; it goes on.", nest)
        finally:
            connection.close()

    thread = threading.Thread(target=look_until_done, name=f"follow {nest.pk}", daemon=True)
    thread.start()
    try:
        yield follow
    finally:
        done.set()
        thread.join()


def _stop_asked(nest: Nest) -> bool:
    """Whether somebody asked to stop here, cancelled the nest, or another attempt has it."""
    return not Nest.objects.filter(pk=nest.pk, attempt=nest.attempt, state=NestState.LAYING, stop_asked=False).exists()


def _told(nest: Nest, best: NestNoun) -> dict[str, Any]:
    """What the page shows of the best so far, as columns."""
    filled = filled_count(best)
    numbers = {
        "placed": best.placed_count - filled,
        "filled": filled,
        "wanted": nest.wanted_count,
        "yield": best.yield_share,
        "stock": sum(layout.copies for layout in best.layouts),
        "proven_optimal": best.proven_optimal,
    }
    draw = route.sheet_picture if isinstance(best, SheetNest) else route.bar_picture
    return {"best": numbers, "best_picture": draw(best, 0) if best.layouts else ""}  # type: ignore[arg-type]
