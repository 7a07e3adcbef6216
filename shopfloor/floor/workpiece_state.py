"""The states of a workpiece. The only module that writes `Workpiece.state`.

Workpieces change in groups, as their load is marked; the events of the load (`FloorEvent.pieces`) are their history.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shopfloor.accounts.models import User
from shopfloor.base.errors import WrongState
from shopfloor.floor.models import Load, ScrapReason, Workpiece, WorkpieceState
from shopfloor.orders import progress
from shopfloor.orders.progress import Shift

S = WorkpieceState
MOVES: Mapping[str, frozenset[str]] = {
    S.NESTED: frozenset({S.CUT, S.LOST, S.RECALLED}),
    S.CUT: frozenset({S.BROKEN_OUT, S.LOST}),
    S.BROKEN_OUT: frozenset({S.GOOD, S.REWORK, S.SCRAP, S.LOST}),
    S.REWORK: frozenset({S.GOOD, S.SCRAP}),
    S.GOOD: frozenset(),
    S.SCRAP: frozenset(),
    S.LOST: frozenset(),
    S.RECALLED: frozenset(),
}
"""Which states may follow which; undoing runs an event's moves backwards."""

NOT_GOOD = frozenset({S.REWORK, S.SCRAP, S.LOST})


@dataclass(frozen=True)
class PieceMove:
    """One workpiece from one state to another, with a reason where it is not good."""

    number: int
    to_state: str
    reason: str = ""


def move_pieces(
    load: Load, moves: Iterable[PieceMove], *, by: User | None, why: str = "", backwards: bool = False
) -> list[list[str | int]]:
    """Carries out the moves and reports the counts to the order lines; must run inside the load's own transaction.

    Of pieces that are not good the lines are told why: their own reason, else `why`. Answers what to store in the
    event: [number, from, to, reason before, reason] for each piece.

    Raises:
        WrongState: a piece is not on this load, is not in a state that allows the move, or moved meanwhile.
    """
    wanted = {move.number: move for move in moves}
    pieces = {p.number: p for p in load.workpieces.filter(number__in=wanted).order_by("pk")}
    if missing := sorted(set(wanted) - set(pieces)):
        raise WrongState(f"{load} has no piece {missing[0]}. Reload the page.")
    done: list[list[str | int]] = []
    shifts: Counter[tuple[int, str, str, str]] = Counter()
    batches: dict[tuple[str, str, str], list[int]] = {}
    for number, move in sorted(wanted.items()):
        piece = pieces[number]
        allowed = move.to_state in MOVES[piece.state] or (backwards and piece.state in MOVES[move.to_state])
        if not allowed:
            raise WrongState(
                f"Piece {number} is {piece.get_state_display()} already, so it cannot become "
                f"{S(move.to_state).label}. Reload the page."
            )
        batches.setdefault((piece.state, move.to_state, move.reason), []).append(piece.pk)
        because = _reason_in_words(move, why) if move.to_state in NOT_GOOD and not backwards else ""
        shifts[piece.line_id, _step(piece.state), _step(move.to_state), because] += 1
        done.append([number, piece.state, move.to_state, piece.reason, move.reason])
    for (old, new, reason), ids in batches.items():
        changed = Workpiece.objects.filter(pk__in=ids, state=old).update(state=new, reason=reason)
        if changed != len(ids):
            raise WrongState("Some of these pieces were marked by somebody else just now. Reload the page.")
    rows = [Shift(line, old, new, n, because) for (line, old, new, because), n in shifts.items()]
    progress.report(rows, by=by, place=str(load))
    return done


def _reason_in_words(move: PieceMove, otherwise: str) -> str:
    return str(ScrapReason(move.reason).label) if move.reason else otherwise


def _step(state: str) -> str:
    """The order line's step for a workpiece state; a recalled piece is back on its nest, which is the same step."""
    return "nested" if state == S.RECALLED else state
