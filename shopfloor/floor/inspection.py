"""What the inspector says of each piece: good, rework or scrap with a reason. Scrap is wanted again at once."""

from collections.abc import Mapping
from dataclasses import dataclass

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput
from shopfloor.base.moves import as_key
from shopfloor.base.roles import require
from shopfloor.floor.load_state import mark_pieces
from shopfloor.floor.models import FloorEvent, Load, ScrapReason, WorkpieceState
from shopfloor.floor.workpiece_state import PieceMove

VERDICTS = (WorkpieceState.GOOD, WorkpieceState.REWORK, WorkpieceState.SCRAP)


@dataclass(frozen=True)
class Verdict:
    """What was found of one piece; a piece that is not good needs a reason."""

    state: str
    reason: str = ""


def inspect(load: Load, verdicts: Mapping[int, Verdict], *, by: User, key: object = None) -> FloorEvent:
    """Marks pieces by number.

    Raises:
        BadInput: no verdict, an unknown one, or one that is not good without a reason.
        WrongState: a piece is not broken out (or in rework), or was judged meanwhile.
    """
    require(by, "inspect")
    request_key = as_key(key)
    # "All good" sent twice finds nothing left to judge; the key inside gives it the first answer.
    if not verdicts and not FloorEvent.objects.filter(key=request_key, load=load).exists():
        raise BadInput("Mark at least one piece.", "verdicts")
    for number, verdict in verdicts.items():
        if verdict.state not in VERDICTS:
            raise BadInput(f"Piece {number}: say good, rework or scrap.", "verdicts")
        if verdict.state != WorkpieceState.GOOD and verdict.reason not in ScrapReason.values:
            raise BadInput(f"Piece {number}: choose a reason why it is not good.", "verdicts")
    moves = [
        PieceMove(number, verdict.state, "" if verdict.state == WorkpieceState.GOOD else verdict.reason)
        for number, verdict in verdicts.items()
    ]
    reasons = sorted({ScrapReason(m.reason).label for m in moves if m.reason})
    return mark_pieces(load, "inspect", moves, by=by, key=request_key, why=", ".join(reasons))


def all_good(load: Load) -> dict[int, Verdict]:
    """The verdicts that make every piece that still waits for inspection good."""
    waiting = load.workpieces.filter(state=WorkpieceState.BROKEN_OUT).values_list("number", flat=True)
    return {number: Verdict(WorkpieceState.GOOD) for number in waiting}
