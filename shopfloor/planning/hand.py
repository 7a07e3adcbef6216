"""Keeps one sheet of a ready nest as a person moved its pieces: counted, checked again, drawn and written anew.

What is taken off is open again; what is added comes from open pieces of the same group. A layout with a fault is
refused with its sentences, and then nothing has changed.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from django.db.models import ProtectedError

from nesting import route
from nesting.model.filled import filled_count
from nesting.model.findings import Finding
from nesting.model.nest import Placement
from nesting.records.nests import nest_to_record
from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused, WrongState
from shopfloor.base.moves import as_key, earlier
from shopfloor.base.roles import require
from shopfloor.orders import progress
from shopfloor.planning.bound import bound_facts
from shopfloor.planning.cut_files import draw_again
from shopfloor.planning.hand_change import Change, SheetByHand
from shopfloor.planning.models import Layout, Nest, NestDemand, NestEvent, NestState
from shopfloor.planning.nest_state import NEST, change_by_hand, stock_of
from shopfloor.planning.request import MOST_PER_NEST
from shopfloor.stock import reserve
from shopfloor.stock.models import Kind

MOST_SENTENCES = 12
"""Faults told at once; whoever mends these sees the rest."""


class NotToBeCut(Refused):
    """The layout has faults; `findings` are what the checker said of it."""

    code = "layout-faults"

    def __init__(self, findings: Sequence[Finding]) -> None:
        sentences = [finding.message for finding in findings[:MOST_SENTENCES]]
        if (more := len(findings) - MOST_SENTENCES) > 0:
            sentences.append(f"And {more} more.")
        super().__init__("Not saved. " + " ".join(sentences))
        self.findings = tuple(findings)


def pieces_from_record(rows: object) -> tuple[Placement, ...]:
    """Placements from what a browser or program sent: [{piece, x_mm, y_mm, turn_deg, mirrored}, ...].

    Raises:
        BadInput: it is not that.
    """
    if not isinstance(rows, list) or len(rows) > MOST_PER_NEST:
        raise BadInput(f"The pieces must be a list of at most {MOST_PER_NEST}.", "pieces")
    return tuple(_placement(row, number) for number, row in enumerate(rows, 1))


def _placement(row: object, number: int) -> Placement:
    if not isinstance(row, dict) or not isinstance(row.get("piece"), str):
        raise BadInput(f"Piece {number} does not say which part it is.", "pieces")
    numbers = [row.get("x_mm"), row.get("y_mm"), row.get("turn_deg", 0.0)]
    for value in numbers:
        if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e6:
            raise BadInput(f"Piece {number} does not say in numbers where it lies.", "pieces")
    mirrored = row.get("mirrored", False)
    if not isinstance(mirrored, bool):
        raise BadInput(f"Piece {number} does not say whether it is mirrored.", "pieces")
    x, y, turn = (float(value) for value in numbers)
    return Placement(row["piece"], x, y, math.fmod(turn, 360.0), mirrored)


def sheet_nest_to_change(nest_id: int) -> Nest:
    """The nest as it is now.

    Raises:
        WrongState: it is not ready.
        Refused: it is of tube (`not-sheet`).
    """
    nest = Nest.objects.select_related("material", "machine").get(pk=nest_id)
    if nest.state != NestState.READY:
        raise WrongState(f"{nest} is {nest.get_state_display()}; only a ready nest can be changed by hand.")
    if nest.kind != Kind.SHEET:
        raise Refused("Only sheets are changed by hand; bars are laid out by the server alone.", "not-sheet")
    return nest


def save_by_hand(nest: Nest, sheet: SheetByHand, *, by: User, key: object = None) -> NestEvent:
    """The event of the change, or the one that the same key made before.

    Raises:
        NotToBeCut: the checker found faults; nothing was saved.
        WrongState: the nest moved on, or was changed since it was fetched; or pieces were taken meanwhile.
        Refused: nothing is left on the last sheet (`nothing-left`), too few pieces wait (`too-few-wait`).
        BadInput: there is no such sheet or part, or nothing was changed.
    """
    require(by, "nest")
    request_key = as_key(key)
    if found := earlier(NEST, nest, request_key, "change-by-hand"):
        assert isinstance(found, NestEvent)  # noqa: S101 - a wiring fault, not an input
        return found
    now = sheet_nest_to_change(nest.pk)
    if now.version != sheet.version:
        raise WrongState(f"{now} was changed by somebody else meanwhile. Reload the page and do it again.")
    change = Change(now, sheet)
    if faults := route.check_nest(change.answer):
        raise NotToBeCut(faults)
    # Drawn before the transaction, in which nobody else may have to wait for pictures.
    drawn = draw_again(now, change.answer, change.touched)
    # Pieces may have been added or taken off, so what all nests need is worked out anew.
    answer = replace(change.answer, bound=route.bound_of(change.answer.job))
    fields = {
        "result": nest_to_record(answer),
        "wanted_count": sum(demand.count for demand in change.answer.job.demands),
        "placed_count": change.answer.placed_count,
        "filled_count": filled_count(change.answer),
        "yield_share": change.answer.yield_share,
        "proven_optimal": False,
        "bound": bound_facts(answer),
        "unplaced": [{"part": u.part, "count": u.count, "reason": u.reason} for u in change.answer.unplaced],
        "due_on": change.due_on,
    }

    def work(nest: Nest) -> None:
        before = stock_of(nest)
        _store_layouts(nest, change, drawn)
        kept = stock_of(nest)
        reserve.give_back({item: n - kept.get(item, 0) for item, n in before.items() if n > kept.get(item, 0)})
        for line_id, count in change.count_of_line.items():
            counted = {"count": count, "fill_count": change.fill_of_line.get(line_id, 0)}
            NestDemand.objects.update_or_create(nest=nest, line_id=line_id, defaults=counted)
        progress.report(change.shifts, by=by, place=str(nest))

    return change_by_hand(
        nest, by=by, key=request_key, why=change.words, version=sheet.version, fields=fields, work=work
    )


def _store_layouts(nest: Nest, change: Change, drawn: Mapping[int, Mapping[str, object]]) -> None:
    """Rows as the answer has them; those that stay keep their id and move up one by one, each to a free place."""
    rows = {row.position: row.pk for row in nest.layouts.only("position")}
    try:
        for position in rows.keys() - set(change.origins):
            Layout.objects.get(pk=rows[position]).delete()
    except ProtectedError as fault:
        raise Refused(
            "The sheet was at the machine once, so it stays in the nest's history. Leave a piece on it, or throw the "
            "nest away and nest again.",
            "sheet-has-history",
        ) from fault
    for index, origin in enumerate(change.origins):
        fields = {"position": index + 1, "copies": change.answer.layouts[index].copies, **drawn.get(index, {})}
        if origin is None:
            Layout.objects.create(nest=nest, **fields)
        else:
            Layout.objects.filter(pk=rows[origin]).update(**fields)
