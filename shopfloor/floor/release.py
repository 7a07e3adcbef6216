"""Releases a nest to its machine: every sheet and bar becomes a load, every piece a workpiece of its order.

Which order line a piece is for is settled here, as `planning.for_whom` says.
"""

from nesting.model.nest import BarLayout, Piece, Placement, SheetLayout
from shopfloor.accounts.models import User
from shopfloor.base.errors import Refused
from shopfloor.floor.load_state import mark_whole
from shopfloor.floor.models import Load, LoadState, Workpiece, WorkpieceState
from shopfloor.floor.workpiece_state import PieceMove, move_pieces
from shopfloor.planning import nest_state
from shopfloor.planning.for_whom import lines_of_pieces
from shopfloor.planning.job import demands_of
from shopfloor.planning.models import Nest


def release(nest: Nest, *, by: User, key: object = None) -> list[Load]:
    """The loads, in the order in which they should be cut."""

    def make_loads(nest: Nest) -> None:
        # The object may have been fetched before the nest was saved.
        nest.refresh_from_db(fields=["result"])
        shapes = [(layout.copies, [row.part for row in _rows(layout)]) for layout in nest.noun.layouts]
        of_layouts = lines_of_pieces(nest, demands_of(nest), shapes)
        for layout in nest.layouts.select_related("stock"):
            for copy_no, lines in enumerate(of_layouts[layout.position - 1], 1):
                load = Load.objects.create(
                    layout=layout,
                    copy_no=copy_no,
                    machine=nest.machine,
                    stock=layout.stock,
                    due_on=min(line.order.due_on for line in lines),
                )
                Workpiece.objects.bulk_create(
                    Workpiece(load=load, line=line, number=number) for number, line in enumerate(lines, 1)
                )

    nest_state.release(nest, by=by, key=key, work=make_loads)
    return list(Load.objects.filter(layout__nest=nest).exclude(state=LoadState.RECALLED))


def recall(nest: Nest, *, by: User, key: object = None) -> None:
    """Takes a released nest back from the machine, to be thrown away or released again.

    Raises:
        Refused: code `load-pulled`, where a load was pulled already.
    """

    def take_loads(nest: Nest) -> None:
        loads = list(Load.objects.filter(layout__nest=nest).exclude(state=LoadState.RECALLED).order_by("pk"))
        if any(load.state != LoadState.WAITING for load in loads):
            raise Refused(
                f"{nest} has a sheet or bar at the machine or cut already. Finish it, or have it put back first.",
                "load-pulled",
            )
        for load in loads:
            mark_whole(load, "recall", by=by, work=lambda load: _recall_pieces(load, by))

    nest_state.recall(nest, by=by, key=key, work=take_loads)


def _recall_pieces(load: Load, by: User) -> dict[str, object]:
    numbers = load.workpieces.values_list("number", flat=True)
    return {"pieces": move_pieces(load, [PieceMove(n, WorkpieceState.RECALLED) for n in numbers], by=by)}


def _rows(layout: SheetLayout | BarLayout) -> tuple[Placement, ...] | tuple[Piece, ...]:
    return layout.placements if isinstance(layout, SheetLayout) else layout.pieces
