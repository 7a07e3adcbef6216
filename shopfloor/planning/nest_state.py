"""The states of a nest and the verbs that change them. Nothing else writes `Nest.state`, save claiming it.

A nest holds pieces of order lines from the moment it is asked for until it is done or thrown away; whichever way it
leaves, the pieces go back with it in the same transaction. A rival of a ready nest holds none until it is chosen.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from django.conf import settings
from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.base.errors import WrongState
from shopfloor.base.leases import WorkKind
from shopfloor.base.moves import Machine, move
from shopfloor.base.roles import require
from shopfloor.orders import progress
from shopfloor.orders.progress import OPEN, Shift
from shopfloor.planning.models import LIVE_RIVAL, Layout, Nest, NestEvent, NestState
from shopfloor.stock import reserve

NEST = Machine(
    "nest",
    NestEvent,
    "nest",
    {
        "save": (frozenset({NestState.LAYING}), NestState.READY),
        "propose": (frozenset({NestState.LAYING}), NestState.PROPOSED),
        "give-up": (frozenset({NestState.LAYING}), NestState.FAILED),
        "cancel": (frozenset({NestState.QUEUED, NestState.LAYING}), NestState.THROWN_AWAY),
        "throw-away": (frozenset({NestState.READY, NestState.FAILED, NestState.PROPOSED}), NestState.THROWN_AWAY),
        "change-by-hand": (frozenset({NestState.READY}), NestState.READY),
        "give-way": (frozenset({NestState.READY}), NestState.THROWN_AWAY),
        "choose": (frozenset({NestState.PROPOSED}), NestState.READY),
        "drop": (frozenset({NestState.QUEUED, NestState.LAYING, NestState.PROPOSED}), NestState.THROWN_AWAY),
        "release": (frozenset({NestState.READY}), NestState.RELEASED),
        "recall": (frozenset({NestState.RELEASED}), NestState.READY),
        "finish": (frozenset({NestState.RELEASED}), NestState.DONE),
        "unfinish": (frozenset({NestState.DONE}), NestState.RELEASED),
    },
)


def save(nest: Nest, *, fields: Mapping[str, Any], work: Callable[[Nest], None]) -> None:
    """A checked result is stored by the attempt that holds the nest; `work` adds layouts and settles the demand.

    Raises:
        WrongState: another attempt holds the nest by now, or it was cancelled.
    """
    stored = {**fields, "finished_at": timezone.now(), "failure": "", "best": None, "best_picture": ""}
    move(NEST, nest, "save", by=None, set_fields=stored, only_if={"attempt": nest.attempt}, work=work)


def propose(nest: Nest, *, fields: Mapping[str, Any], layouts: Iterable[Layout]) -> None:
    """As `save`, for a rival: it is kept with its layouts to be compared, and holds neither pieces nor stock.

    Raises:
        WrongState: another attempt holds the nest by now, or it was dropped.
    """
    stored = {**fields, "finished_at": timezone.now(), "failure": "", "best": None, "best_picture": ""}

    def work(_: Nest) -> None:
        Layout.objects.bulk_create(layouts)

    move(NEST, nest, "propose", by=None, set_fields=stored, only_if={"attempt": nest.attempt}, work=work)


def change_by_hand(
    nest: Nest,
    *,
    by: User,
    key: object = None,
    why: str,
    version: int,
    fields: Mapping[str, Any],
    work: Callable[[Nest], None],
) -> NestEvent:
    """A person moved pieces: `fields` replace the result of that version, `work` the sheets, pieces and stock it holds.

    Raises:
        WrongState: the nest is not ready, or was changed since.
    """
    require(by, "nest")
    stored = {**fields, "version": version + 1}
    only_if = {"version": version}
    event = move(NEST, nest, "change-by-hand", by=by, key=key, why=why, set_fields=stored, only_if=only_if, work=work)
    assert isinstance(event, NestEvent)  # noqa: S101 - a wiring fault, not an input
    return event


def give_way(nest: Nest, rival: Nest, *, by: User, key: object = None, work: Callable[[Nest], None]) -> None:
    """The rival is chosen and takes the nest's place; `work` hands pieces and stock over.

    The nest that goes moves first, here as when it is released: two people who choose at once wait for each other.
    """
    require(by, "nest")

    def hand_over(nest: Nest) -> None:
        why, only_if = f"instead of {nest}", {"rival_of": nest}
        move(NEST, rival, "choose", by=by, why=why, only_if=only_if, work=lambda _: work(nest))

    move(NEST, nest, "give-way", by=by, key=key, why=f"for {rival}", work=hand_over)


def give_up(nest: Nest, sentence: str) -> None:
    """Laying out came to nothing; the pieces are open again and the planner reads why.

    Raises:
        WrongState: another attempt holds the nest by now.
    """
    fields, mine = {"failure": sentence, "finished_at": timezone.now()}, {"attempt": nest.attempt}
    move(NEST, nest, "give-up", by=None, why=sentence, set_fields=fields, only_if=mine, work=_let_go("planned"))


def cancel(nest: Nest, *, by: User, key: object = None) -> None:
    """Stops a nest that waits or is being laid out; its pieces are open again. The worker notices within a moment."""
    require(by, "nest")
    move(NEST, nest, "cancel", by=by, key=key, set_fields={"stop_asked": True}, work=_let_go("planned"))


def take_best(nest: Nest, *, by: User) -> None:
    """Asks the worker to stop here and keep the best nest so far; nothing happens where it is done already."""
    require(by, "nest")
    Nest.objects.filter(pk=nest.pk, state=NestState.LAYING).update(stop_asked=True)


def throw_away(nest: Nest, *, by: User, key: object = None, why: str = "") -> None:
    """The nest is not wanted: its pieces are open again and its stock is free."""
    require(by, "throw-nest-away")

    def let_go(nest: Nest) -> None:
        # What the database says: the object may have been fetched before the nest was saved. A rival holds nothing.
        if nest.layouts.exists() and nest.demands.exists():
            _let_go("nested")(nest)
            reserve.give_back(stock_of(nest))
        _drop_rivals(nest, by)

    move(NEST, nest, "throw-away", by=by, key=key, why=why, work=let_go)


def drop(rival: Nest, *, by: User, key: object = None) -> None:
    """The nest is kept and its rival is not wanted, laid out or not yet.

    Raises:
        WrongState: it is no rival, or was chosen by now.
    """
    require(by, "throw-nest-away")
    if rival.rival_of_id is None:
        raise WrongState(f"{rival} was not laid out beside another nest. Reload the page.")
    move(NEST, rival, "drop", by=by, key=key, set_fields={"stop_asked": True})


def release(nest: Nest, *, by: User, key: object = None, work: Callable[[Nest], None]) -> None:
    """The nest goes to its machine; `work` makes its loads."""
    require(by, "release-nest")

    def release_alone(nest: Nest) -> None:
        work(nest)
        _drop_rivals(nest, by)

    move(NEST, nest, "release", by=by, key=key, work=release_alone)


def recall(nest: Nest, *, by: User, key: object = None, work: Callable[[Nest], None]) -> None:
    """The nest comes back from the machine untouched; `work` takes its loads off the queue, or refuses."""
    require(by, "release-nest")
    move(NEST, nest, "recall", by=by, key=key, work=work)


def settle(nest: Nest, *, all_ended: bool) -> None:
    """Ends a released nest whose last load has come to its end, and takes that back where a mark was undone."""
    nest.refresh_from_db(fields=["state"])
    if all_ended and nest.state == NestState.RELEASED:
        move(NEST, nest, "finish", by=None)
    elif not all_ended and nest.state == NestState.DONE:
        move(NEST, nest, "unfinish", by=None)


def stock_of(nest: Nest) -> dict[int, int]:
    """How many of each stock item the nest uses."""
    counts: Counter[int] = Counter()
    for stock_id, copies in nest.layouts.values_list("stock_id", "copies"):
        counts[stock_id] += copies
    return dict(counts)


def _drop_rivals(nest: Nest, by: User | None) -> None:
    """Whatever was laid out to be compared with the nest is of no use once the nest is gone or at the machine."""
    for rival in nest.rivals.filter(state__in=LIVE_RIVAL):
        move(NEST, rival, "drop", by=by, set_fields={"stop_asked": True}, why=f"{nest} is not there to compare with")


def _let_go(step: str) -> Callable[[Nest], None]:
    def work(nest: Nest) -> None:
        shifts = [Shift(d.line_id, step, OPEN, d.count) for d in nest.demands.all()]
        progress.report(shifts, by=None, place=str(nest))

    return work


NEST_WORK = WorkKind(
    Nest,
    queued=NestState.QUEUED,
    running=NestState.LAYING,
    give_up=give_up,
    at_once=settings.NESTING_AT_ONCE,
)
