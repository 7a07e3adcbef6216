"""Books what is left of a cut sheet or bar back into stock, with the heat number it inherits.

A part and every remnant inherit the sheet's heat number (EN 1090-2, 6.2, from memory). Whether something is large
enough to keep is settled when the nest is made, where the planner sees it.
"""

from decimal import ROUND_DOWN, Decimal
from typing import Any

from django.db import transaction

from shopfloor.base.errors import Refused
from shopfloor.stock.models import StockItem


def book_remnant(
    item: StockItem, *, length_mm: float, width_mm: float | None = None, outline: Any = None, came_from: str = ""
) -> StockItem:
    """The new remnant; its measures are rounded down to 0.1 mm, so that nothing is laid on metal that is not there."""
    return StockItem.objects.create(
        kind=item.kind,
        material=item.material,
        thickness_mm=item.thickness_mm,
        section=item.section,
        length_mm=_rounded_down(length_mm),
        width_mm=None if width_mm is None else _rounded_down(width_mm),
        outline=outline,
        on_hand=1,
        heat_no=item.heat_no,
        place=item.place,
        is_remnant=True,
        came_from=came_from,
    )


def _rounded_down(measure_mm: float) -> Decimal:
    # The micrometre keeps a measure that is whole but for float noise from losing a tenth.
    return Decimal(str(measure_mm + 1e-3)).quantize(Decimal("0.1"), rounding=ROUND_DOWN)


@transaction.atomic
def unbook_remnant(remnant_id: int) -> None:
    """Takes a remnant out of stock again because the cut was undone.

    Raises:
        Refused: code `remnant-used`, where a nest has been promised it.
    """
    # Ordered by pk, since PostgreSQL locks no rows of the outer join that the usual order takes.
    remnant = StockItem.objects.select_for_update().filter(pk=remnant_id).order_by("pk").first()
    if remnant is None:
        return
    if remnant.reserved or not remnant.on_hand:
        raise Refused(f"{remnant} is already promised to a nest: throw that nest away first.", "remnant-used")
    # Kept as a row with nothing on hand: events may name it.
    StockItem.objects.filter(pk=remnant.pk).update(on_hand=0)
