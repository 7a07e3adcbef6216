"""Writes the cut files and picture of each sheet or bar of a checked nest, and a bar's cut list on paper."""

from collections.abc import Iterable, Mapping
from typing import Any

from nesting import route
from nesting.model.nest import BarNest, SheetNest
from nesting.model.nest import Nest as NestNoun
from shopfloor.planning.job import demands_of, part_names, stock_id
from shopfloor.planning.models import Layout, Nest


def layouts_of(nest: Nest, answer: NestNoun) -> list[Layout]:
    """A row, not stored yet, for each layout of the answer, in its order."""
    drawn = draw_again(nest, answer, range(len(answer.layouts)))
    return [
        Layout(nest=nest, position=index + 1, copies=layout.copies, **drawn[index])
        for index, layout in enumerate(answer.layouts)
    ]


def draw_again(nest: Nest, answer: NestNoun, indices: Iterable[int]) -> dict[int, dict[str, Any]]:
    """The columns of the layouts at `indices` (from 0) that follow from what lies on them: all but place and copies."""
    parts = {demand.part.name: demand.part for demand in answer.job.demands}
    drawn = {}
    for index in indices:
        layout = answer.layouts[index]
        rows = layout.placements if hasattr(layout, "placements") else layout.pieces
        flat = None
        if isinstance(answer, SheetNest):
            picture, content, suffix = route.sheet_picture(answer, index), route.sheet_cut_file(answer, index), "dxf"
        else:
            picture, suffix = route.bar_picture(answer, index), "csv"
            content, flat = route.bar_cut_list(answer, index).encode(), route.bar_cut_file(answer, index)
        drawn[index] = {
            "stock_id": stock_id(layout.stock),
            "piece_count": len(rows),
            "yield_share": route.yield_of(answer, index),
            "cut_length_mm": sum(parts[row.part].cut_length for row in rows),
            "pierce_count": sum(parts[row.part].pierce_count for row in rows),
            "remnant": _remnant(answer, index),
            "picture": picture,
            "cut_file": content,
            "cut_file_name": f"nest-{nest.pk}-{index + 1:02d}.{suffix}",
            "flat_file": flat,
        }
    return drawn


def cut_list_on_paper(layout: Layout, orders: Mapping[int, str] | None = None) -> bytes | None:
    """The cut list of a bar as PDF; None for a sheet. `orders` says for whom each piece is, by number.

    Before a nest is released no piece is for one order alone: then each names all that want its part.
    """
    answer = layout.nest.noun
    if not isinstance(answer, BarNest):
        return None
    index = layout.position - 1
    if orders is None:
        wanted = orders_by_part(layout.nest)
        pieces = answer.layouts[index].pieces
        orders = {number: wanted.get(piece.part, "") for number, piece in enumerate(pieces, 1)}
    return route.bar_cut_list_pdf(answer, index, title=str(layout), of=layout.nest.group, orders=orders)


def orders_by_part(nest: Nest) -> dict[str, str]:
    """The numbers of the orders that want each part of the nest, by the part's name in it."""
    demands = demands_of(nest)
    names = part_names((demand.line for demand in demands), by_order=nest.kits_together)
    found: dict[str, dict[str, None]] = {}
    for demand in demands:
        found.setdefault(names[demand.line_id], {})[demand.line.order.number] = None
    return {name: ", ".join(numbers) for name, numbers in found.items()}


def _remnant(answer: NestNoun, index: int) -> dict[str, object] | None:
    """What `stock.returns.book_remnant` must know of what is left over; None where nothing is worth keeping."""
    left = route.remnant_of(answer, index)
    return None if left is None else {"length_mm": left[0], "width_mm": left[1], "outline": None}
