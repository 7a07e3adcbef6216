"""Enters stock by hand and corrects it: what was counted, where it lies, and what was typed wrongly.

Each entry and correction leaves an event that tells who changed what; a request repeated with its key changes nothing.
What nests promise and use up is not corrected here but booked by `reserve` and `returns`.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, Refused
from shopfloor.base.moves import Machine, as_key, earlier
from shopfloor.base.roles import require
from shopfloor.stock.models import Kind, StockEvent, StockItem

MEASURES = ("kind", "material", "thickness_mm", "section", "length_mm", "width_mm")
"""What a nest relies on: these stay as they are while the item is promised to one."""

STATED = (*MEASURES, "on_hand", "heat_no", "place", "is_remnant")
"""What a person may say of a stock item."""

MOST_ON_HAND = 100_000
"""More than a small shop keeps of one thing; beyond it a count is taken for a typing error."""

STOCK = Machine("stock item", StockEvent, "item", {})


def enter_item(values: Mapping[str, Any], *, by: User, key: object = None) -> StockItem:
    """A new stock item with the `STATED` values, or the one that the same key entered before.

    Raises:
        BadInput: a value is missing or cannot be, with its field.
    """
    require(by, "correct-stock")
    request_key = as_key(key)
    if found := _entered_by(request_key):
        return found
    item = StockItem(**{name: value for name, value in values.items() if name in STATED})
    _check(item)
    try:
        with transaction.atomic():
            item.save()
            StockEvent.objects.create(item=item, key=request_key, actor=by, verb="enter", why=_count(item.on_hand))
    except IntegrityError:
        # The same request twice at the same time: the one that lost finds what the other wrote.
        if found := _entered_by(request_key):
            return found
        raise
    return item


@transaction.atomic
def correct_item(item: StockItem, values: Mapping[str, Any], *, by: User, key: object = None) -> StockItem:
    """The item with the `STATED` values that were given set to them.

    Raises:
        BadInput: a value cannot be, with its field.
        Refused: code `stock-promised`, where a nest relies on what is to be changed.
    """
    require(by, "correct-stock")
    request_key = as_key(key)
    # Locked so that a count made by hand and a nest that is promised stock see each other.
    current = StockItem.objects.select_for_update().get(pk=item.pk)
    if earlier(STOCK, current, request_key, "correct"):
        return current
    before = {name: getattr(current, name) for name in STATED if name in values}
    for name in before:
        setattr(current, name, values[name])
    _check(current)
    changed = [name for name, value in before.items() if value != values[name]]
    if not changed:
        return current
    if current.reserved and (fixed := [name for name in changed if name in MEASURES]):
        words = ", ".join(name.removesuffix("_mm") for name in fixed)
        raise Refused(
            f"{item} is promised to a nest, so its {words} cannot change. Throw that nest away first.", "stock-promised"
        )
    if current.outline and {"kind", "length_mm", "width_mm"}.intersection(changed):
        raise BadInput(
            f"{item} was booked with its outline: set its count to 0 and enter what there is anew.", "length_mm"
        )
    current.save(update_fields=changed)
    said = ", ".join(f"{name.removesuffix('_mm')} {before[name]} → {values[name]}" for name in changed)
    StockEvent.objects.create(item=current, key=request_key, actor=by, verb="correct", why=said)
    return current


def _entered_by(key: UUID) -> StockItem | None:
    found = StockEvent.objects.filter(key=key).select_related("item__material", "item__section").first()
    if found is None:
        return None
    if found.verb != "enter":
        raise BadInput("This request key was used for something else. Reload the page and try again.", "key")
    return found.item


def _check(item: StockItem) -> None:
    """Raises BadInput where the item cannot be; the table's constraints hold the same, without a kind word."""
    is_tube = item.kind == Kind.TUBE
    if item.kind not in Kind.values:
        raise BadInput("Say whether it is sheet or tube.", "kind")
    if item.material_id is None:
        raise BadInput("Choose a material from the list.", "material")
    _positive(item.length_mm, "length_mm", "The length")
    if is_tube:
        if item.section_id is None:
            raise BadInput("A bar needs its section: choose one from the list.", "section")
        for name in ("thickness_mm", "width_mm"):
            if getattr(item, name) is not None:
                raise BadInput("A bar has a section instead of thickness and width: leave them empty.", name)
    else:
        _positive(item.thickness_mm, "thickness_mm", "The thickness")
        _positive(item.width_mm, "width_mm", "The width")
        if item.section_id is not None:
            raise BadInput("A sheet has no section: leave it empty.", "section")
    if item.on_hand is not None:
        if not 0 <= item.on_hand <= MOST_ON_HAND:
            raise BadInput(f"The count must be 0 to {MOST_ON_HAND:,}.".replace(",", " "), "on_hand")
        if item.on_hand < item.reserved:
            raise BadInput(
                f"{item.reserved} of these are promised to nests, so the count cannot be {item.on_hand}. "
                "Throw a nest away first, or count again.",
                "on_hand",
            )


def _positive(value: Decimal | None, field: str, what: str) -> None:
    if value is None or not value > 0:
        raise BadInput(f"{what} must be above 0 mm.", field)


def _count(on_hand: int | None) -> str:
    return "not counted" if on_hand is None else f"{on_hand} on hand"
