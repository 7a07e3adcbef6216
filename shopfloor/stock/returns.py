"""Books what is left of a cut sheet or bar back into stock, with the heat number it inherits.

A part and every remnant inherit the sheet's heat number (EN 1090-2, 6.2, from memory). Sizes worth keeping are common
practice, no source.
"""

from decimal import Decimal
from typing import Any

from django.db import transaction

from shopfloor.base.errors import Refused
from shopfloor.stock.models import Kind, StockItem

SHORTEST_SIDE_MM = 300
SMALLEST_AREA_MM2 = 150_000
SHORTEST_BAR_MM = 400


def book_remnant(
    item: StockItem, *, length_mm: float, width_mm: float | None = None, outline: Any = None, came_from: str = ""
) -> StockItem | None:
    """The new remnant, or None where it is too small to keep."""
    if item.kind == Kind.TUBE:
        if length_mm < SHORTEST_BAR_MM:
            return None
    elif width_mm is None or min(length_mm, width_mm) < SHORTEST_SIDE_MM or length_mm * width_mm < SMALLEST_AREA_MM2:
        return None
    return StockItem.objects.create(
        kind=item.kind,
        material=item.material,
        thickness_mm=item.thickness_mm,
        section=item.section,
        length_mm=Decimal(str(round(length_mm, 1))),
        width_mm=None if width_mm is None else Decimal(str(round(width_mm, 1))),
        outline=outline,
        on_hand=1,
        heat_no=item.heat_no,
        place=item.place,
        is_remnant=True,
        came_from=came_from,
    )


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
