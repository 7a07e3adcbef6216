"""The states of a load. Nothing else writes `Load.state`.

Pulling, centring, cutting and failing concern the load as a whole. Breaking out and inspecting concern its pieces, and
the load's state follows from theirs: cut while a piece is still in the skeleton, broken out while one waits for
inspection, then inspected. When the last load of a nest has come to its end, the nest is done.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from django.db import transaction

from shopfloor.accounts.models import User
from shopfloor.base.errors import WrongState
from shopfloor.base.moves import Event, Machine, as_key, earlier, move
from shopfloor.floor.models import FloorEvent, Load, LoadState, WorkpieceState
from shopfloor.floor.workpiece_state import PieceMove, move_pieces
from shopfloor.planning import nest_state
from shopfloor.planning.models import Nest

S = LoadState
WORKED_ON = frozenset({S.CUT, S.BROKEN_OUT, S.INSPECTED})
CAME_TO_AN_END = frozenset({S.INSPECTED, S.FAILED})

LOAD = Machine(
    "load",
    FloorEvent,
    "load",
    {
        "pull": (frozenset({S.WAITING}), S.AT_MACHINE),
        "put-back": (frozenset({S.AT_MACHINE}), S.WAITING),
        "check-centring": (frozenset({S.AT_MACHINE}), S.AT_MACHINE),
        "mark-cut": (frozenset({S.AT_MACHINE}), S.CUT),
        "mark-failed": (frozenset({S.AT_MACHINE}), S.FAILED),
        "recall": (frozenset({S.WAITING}), S.RECALLED),
        "undo-check-centring": (frozenset({S.AT_MACHINE}), S.AT_MACHINE),
        "undo-mark-cut": (frozenset({S.CUT}), S.AT_MACHINE),
        "undo-mark-failed": (frozenset({S.FAILED}), S.AT_MACHINE),
    },
)


def mark_whole(
    load: Load,
    verb: str,
    *,
    by: User,
    key: object = None,
    why: str = "",
    work: Callable[[Load], Mapping[str, Any] | None] | None = None,
    set_fields: Mapping[str, Any] | None = None,
) -> FloorEvent:
    """Moves the load as a whole; see `base.moves.move` for what the arguments and refusals mean."""
    with transaction.atomic():
        event = move(LOAD, load, verb, by=by, key=key, why=why, work=work, set_fields=set_fields)
        _settle_nest(load, event)
    assert isinstance(event, FloorEvent)  # noqa: S101 - what LOAD writes
    return event


def mark_pieces(
    load: Load,
    verb: str,
    moves: Iterable[PieceMove],
    *,
    by: User,
    key: object = None,
    why: str = "",
    undoes: FloorEvent | None = None,
) -> FloorEvent:
    """Moves single pieces of the load, and the load to whatever state follows from them.

    Raises:
        WrongState: the load is not cut yet or has ended otherwise, or a piece moved meanwhile.
        BadInput: the key is malformed or was used for something else.
    """
    request_key = as_key(key)
    with transaction.atomic():
        # One tablet at a time on the pieces of a load: the load's next state is read off all of them together.
        current = Load.objects.select_for_update().get(pk=load.pk)
        machine = Machine("load", FloorEvent, "load", {verb: (WORKED_ON, current.state)})
        if found := earlier(machine, load, request_key, verb):
            assert isinstance(found, FloorEvent)  # noqa: S101 - what this machine writes
            return found
        if current.state not in WORKED_ON:
            raise WrongState(
                f"{load} is {current.get_state_display()}, so nothing can be marked on its pieces. Reload the page."
            )
        pieces = move_pieces(current, moves, by=by, why=why, backwards=undoes is not None)
        after = Machine("load", FloorEvent, "load", {verb: (frozenset({current.state}), _state_by_pieces(current))})
        event = move(
            after, load, verb, by=by, key=request_key, why=why, work=lambda _: {"pieces": pieces, "undoes": undoes}
        )
        _settle_nest(load, event)
    assert isinstance(event, FloorEvent)  # noqa: S101 - what this machine writes
    return event


def _state_by_pieces(load: Load) -> str:
    states = set(load.workpieces.values_list("state", flat=True))
    if WorkpieceState.CUT in states:
        return S.CUT
    return S.BROKEN_OUT if WorkpieceState.BROKEN_OUT in states else S.INSPECTED


def _settle_nest(load: Load, event: Event) -> None:
    """Ends or reopens the nest where the event has ended or reopened its load."""
    if event.to_state not in CAME_TO_AN_END and event.from_state not in CAME_TO_AN_END:
        return
    # Locked before its loads are counted: of two tablets that end the last two loads, the second must see the first.
    nest = Nest.objects.select_for_update(no_key=True).only("state").get(layouts=load.layout_id)
    loads = Load.objects.filter(layout__nest=nest).exclude(state=S.RECALLED)
    nest_state.settle(nest, all_ended=not loads.exclude(state__in=CAME_TO_AN_END).exists())
