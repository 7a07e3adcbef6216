"""Takes back the last mark on a load, by a second event that names the first.

Only the last mark can be taken back, and only as long as nothing was built on it: a scrapped piece that is on another
nest already, or a remnant that was promised, keeps the mark.
"""

from typing import Any
from uuid import UUID

from shopfloor.accounts.models import User
from shopfloor.base.errors import Refused, WrongState
from shopfloor.base.moves import as_key
from shopfloor.base.roles import require
from shopfloor.floor.load_state import mark_pieces, mark_whole
from shopfloor.floor.models import FloorEvent, Load
from shopfloor.floor.workpiece_state import PieceMove, move_pieces
from shopfloor.stock import reserve
from shopfloor.stock.returns import unbook_remnant

CAN_UNDO = ("check-centring", "mark-cut", "mark-failed", "break-out", "inspect")


def last_mark(load: Load) -> FloorEvent | None:
    """The mark that `undo` would take back, or None."""
    for event in load.events.select_related("undone_by").order_by("-pk"):
        if event.verb in CAN_UNDO and not hasattr(event, "undone_by"):
            return event
        if event.verb in ("pull", "put-back", "recall"):
            return None
    return None


def undo(load: Load, *, by: User, key: object = None, mark_id: int | None = None) -> FloorEvent:
    """The event that takes the last mark back. With `mark_id`, only if the last mark is that one: two people who undo
    what both see then take back one mark, and not the one before it too.

    Raises:
        Refused: there is nothing to take back (`nothing-to-undo`), its remnant is promised (`remnant-used`).
        WrongState: a piece is wanted back that another nest has taken.
    """
    request_key = as_key(key)
    answered = FloorEvent.objects.filter(key=request_key, load=load, verb__startswith="undo-")
    if found := answered.first():
        return found
    try:
        return _undo(load, by, request_key, mark_id)
    except Refused:
        # The same request, sent twice, may have been served since that look.
        if found := answered.first():
            return found
        raise


def _undo(load: Load, by: User, request_key: UUID, mark_id: int | None) -> FloorEvent:
    mark = last_mark(load)
    if mark is None:
        raise Refused(f"{load}: there is no mark to take back.", "nothing-to-undo")
    if mark_id is not None and mark.pk != mark_id:
        raise WrongState(f"{load}: that mark is not the last one any more. Look what was marked since.")
    require(by, mark.verb)
    verb = f"undo-{mark.verb}"
    back = [PieceMove(number, was, reason) for number, was, _, reason, _ in mark.pieces]
    try:
        if mark.verb in ("break-out", "inspect"):
            return mark_pieces(load, verb, back, by=by, key=request_key, undoes=mark)
        return mark_whole(
            load,
            verb,
            by=by,
            key=request_key,
            set_fields={"cut_at": None},
            work=lambda load: _reverse(load, mark, back, by),
        )
    except WrongState as fault:
        raise WrongState(f"This mark cannot be taken back: {fault}") from fault


def _reverse(load: Load, mark: FloorEvent, back: list[PieceMove], by: User) -> dict[str, Any]:
    if mark.verb == "check-centring":
        return {"undoes": mark}
    pieces = move_pieces(load, back, by=by, backwards=True)
    if mark.verb == "mark-cut":
        # The sheet before its remnant, as everybody locks stock in id order.
        reserve.put_back(load.stock_id)
        if load.remnant_id:
            unbook_remnant(load.remnant_id)
            Load.objects.filter(pk=load.pk).update(remnant=None)
            load.remnant = None
    elif mark.detail.get("stock_spoiled", True):
        reserve.put_back(load.stock_id)
    else:
        reserve.reserve({load.stock_id: 1})
    return {"pieces": pieces, "undoes": mark}
