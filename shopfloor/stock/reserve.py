"""Promises stock to nests and takes it out of the rack when it is cut. Rows are locked always in id order."""

from collections.abc import Mapping

from django.db import transaction
from django.db.models import F

from shopfloor.base.errors import Refused
from shopfloor.stock.models import StockItem


def _locked(counts: Mapping[int, int]) -> list[StockItem]:
    # Two nests that want the same rows must wait for each other in the same order, or they wait for ever.
    return list(StockItem.objects.select_for_update().filter(pk__in=sorted(counts)).order_by("pk"))


@transaction.atomic
def reserve(counts: Mapping[int, int]) -> None:
    """Promises so many of each stock item.

    Raises:
        Refused: code `stock-gone`, where fewer are free or the item was deleted; nothing is promised then.
    """
    items = _locked(counts)
    if len(items) < len(counts):
        raise Refused("A sheet or bar of this nest is no longer in stock.", "stock-gone")
    for item in items:
        if item.free is not None and item.free < counts[item.pk]:
            raise Refused(
                f"{item}: {counts[item.pk]} needed, {item.free} free. The stock changed meanwhile.", "stock-gone"
            )
    for pk, count in sorted(counts.items()):
        StockItem.objects.filter(pk=pk).update(reserved=F("reserved") + count)


@transaction.atomic
def give_back(counts: Mapping[int, int]) -> None:
    """Takes promises back."""
    for item in _locked(counts):
        StockItem.objects.filter(pk=item.pk).update(reserved=F("reserved") - counts[item.pk])


@transaction.atomic
def exchange(given_back: Mapping[int, int], promised: Mapping[int, int]) -> None:
    """Takes promises back and makes others in their place, all or none; refuses as `reserve` does."""
    # All rows at once: one after the other they would be locked out of order.
    _locked({**given_back, **promised})
    give_back(given_back)
    reserve(promised)


@transaction.atomic
def take_out(item_id: int) -> None:
    """One promised sheet or bar has been used up."""
    for item in _locked({item_id: 1}):
        on_hand = None if item.on_hand is None else F("on_hand") - 1
        StockItem.objects.filter(pk=item.pk).update(reserved=F("reserved") - 1, on_hand=on_hand)


@transaction.atomic
def put_back(item_id: int) -> None:
    """Undoes `take_out`: the sheet or bar was not used up after all, and is promised again."""
    for item in _locked({item_id: 1}):
        on_hand = None if item.on_hand is None else F("on_hand") + 1
        StockItem.objects.filter(pk=item.pk).update(reserved=F("reserved") + 1, on_hand=on_hand)
