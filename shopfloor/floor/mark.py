"""What the operator marks on a load: cut, failed, broken out; and taking such a mark back."""

from collections.abc import Iterable
from typing import Any

from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput
from shopfloor.base.moves import as_key
from shopfloor.base.roles import require
from shopfloor.floor.load_state import mark_pieces, mark_whole
from shopfloor.floor.models import FloorEvent, Load, WorkpieceState
from shopfloor.floor.workpiece_state import PieceMove, move_pieces
from shopfloor.stock import reserve
from shopfloor.stock.returns import book_remnant


def mark_cut(load: Load, *, by: User, key: object = None, keep_remnant: bool = True) -> FloorEvent:
    """The sheet or bar is cut: it leaves stock, what is left of it comes back as a remnant with its heat number."""
    require(by, "mark-cut")

    def work(load: Load) -> dict[str, Any]:
        numbers = load.workpieces.values_list("number", flat=True)
        pieces = move_pieces(load, [PieceMove(n, WorkpieceState.CUT) for n in numbers], by=by)
        reserve.take_out(load.stock_id)
        if keep_remnant and load.layout.remnant:
            remnant = book_remnant(load.stock, **load.layout.remnant, came_from=str(load))
            Load.objects.filter(pk=load.pk).update(remnant=remnant)
            load.remnant = remnant
        return {"pieces": pieces}

    return mark_whole(load, "mark-cut", by=by, key=key, set_fields={"cut_at": timezone.now()}, work=work)


def mark_failed(load: Load, *, by: User, why: str, key: object = None, stock_spoiled: bool = True) -> FloorEvent:
    """The cut failed: its pieces are lost and wanted again at once. A sheet that can still be used stays in stock.

    Raises:
        BadInput: no reason given.
    """
    require(by, "mark-failed")
    if not why.strip():
        raise BadInput("Say in a word or two why it failed.", "why")

    def work(load: Load) -> dict[str, Any]:
        numbers = load.workpieces.values_list("number", flat=True)
        moves = [PieceMove(n, WorkpieceState.LOST) for n in numbers]
        pieces = move_pieces(load, moves, by=by, why=why)
        if stock_spoiled:
            reserve.take_out(load.stock_id)
        else:
            reserve.give_back({load.stock_id: 1})
        return {"pieces": pieces, "detail": {"stock_spoiled": stock_spoiled}}

    return mark_whole(load, "mark-failed", by=by, key=key, why=why, work=work)


def break_out(
    load: Load, *, by: User, key: object = None, numbers: Iterable[int] | None = None, lost: Iterable[int] = ()
) -> FloorEvent:
    """Pieces are out of the skeleton: all that are still in it, or just `numbers`; those in `lost` are not there.

    Lost pieces are wanted again at once.

    Raises:
        BadInput: there is nothing left to break out.
        WrongState: a piece is not in the skeleton any more.
    """
    require(by, "break-out")
    request_key = as_key(key)
    missing = set(lost)
    chosen = set(numbers) if numbers is not None else _still_in(load)
    moves = [PieceMove(n, WorkpieceState.LOST if n in missing else WorkpieceState.BROKEN_OUT) for n in chosen | missing]
    # A repeated request finds nothing left to do; the key inside gives it the first answer.
    if not moves and not FloorEvent.objects.filter(key=request_key, load=load).exists():
        raise BadInput(f"{load}: nothing is left to break out.")
    return mark_pieces(load, "break-out", moves, by=by, key=request_key)


def _still_in(load: Load) -> set[int]:
    return set(load.workpieces.filter(state=WorkpieceState.CUT).values_list("number", flat=True))
