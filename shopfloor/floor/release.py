"""Releases a nest to its machine: every sheet and bar becomes a load, every piece a workpiece of its order.

Which order line a piece is for is settled here: the pieces that are cut first go to the lines that are due first.
"""

from collections import defaultdict

from nesting.model.nest import SheetLayout
from shopfloor.accounts.models import User
from shopfloor.base.errors import Refused
from shopfloor.floor.load_state import mark_whole
from shopfloor.floor.models import Load, LoadState, Workpiece, WorkpieceState
from shopfloor.floor.workpiece_state import PieceMove, move_pieces
from shopfloor.orders.models import OrderLine
from shopfloor.planning import nest_state
from shopfloor.planning.job import demands_of, part_names
from shopfloor.planning.models import Nest


def release(nest: Nest, *, by: User, key: object = None) -> list[Load]:
    """The loads, in the order in which they should be cut."""

    def make_loads(nest: Nest) -> None:
        demands = demands_of(nest)
        names = part_names(demand.line for demand in demands)
        waiting: dict[str, list[tuple[OrderLine, int]]] = defaultdict(list)
        for demand in demands:
            waiting[names[demand.line_id]].append((demand.line, demand.count))
        # The object may have been fetched before the nest was saved.
        nest.refresh_from_db(fields=["result"])
        noun = nest.noun
        for layout in nest.layouts.select_related("stock"):
            shape = noun.layouts[layout.position - 1]
            rows = shape.placements if isinstance(shape, SheetLayout) else shape.pieces
            for copy_no in range(1, layout.copies + 1):
                lines = [_next_line(waiting[row.part]) for row in rows]
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


def _next_line(waiting: list[tuple[OrderLine, int]]) -> OrderLine:
    """The line the next piece is for, counted down in place."""
    while waiting[0][1] == 0:
        waiting.pop(0)
    line, count = waiting[0]
    waiting[0] = (line, count - 1)
    return line
