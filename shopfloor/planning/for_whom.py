"""For which order line each piece of a nest is: of pieces that are alike, those cut first go to the lines due first."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from shopfloor.orders.models import OrderLine
from shopfloor.planning.job import part_names
from shopfloor.planning.models import Nest, NestDemand


def lines_of_pieces(
    nest: Nest, demands: Iterable[NestDemand], layouts: Iterable[tuple[int, Sequence[str]]]
) -> list[list[list[OrderLine]]]:
    """For each layout, for each copy of it, the line of each piece.

    The demand comes earliest due first and counts what was placed; a layout is its copies and its pieces' part names.
    """
    demands = list(demands)
    names = part_names((demand.line for demand in demands), by_order=nest.kits_together)
    waiting: dict[str, list[tuple[OrderLine, int]]] = defaultdict(list)
    for demand in demands:
        waiting[names[demand.line_id]].append((demand.line, demand.count))
    return [[[_next_line(waiting[name]) for name in pieces] for _ in range(copies)] for copies, pieces in layouts]


def _next_line(waiting: list[tuple[OrderLine, int]]) -> OrderLine:
    """The line the next piece is for, counted down in place."""
    while waiting[0][1] == 0:
        waiting.pop(0)
    line, count = waiting[0]
    waiting[0] = (line, count - 1)
    return line
