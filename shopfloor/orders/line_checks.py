"""What a person may state of an order line: each value as the line stores it, or a sentence on what it may be."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from shopfloor.base.errors import BadInput
from shopfloor.orders.models import MOST_PIECES, Grain, OrderLine
from shopfloor.stock.models import Material, TubeSection
from shopfloor.stock.near_sections import may_take


def checked_line(line: OrderLine, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values as a line stores them, by column.

    Raises:
        BadInput: with the field and what it may be.
    """
    stated: dict[str, Any] = {}
    if "quantity" in values:
        stated["quantity"] = checked_quantity(values["quantity"])
    if "material" in values:
        if values["material"] is not None and not isinstance(values["material"], Material):
            raise BadInput("Choose a material from the list.", "material")
        stated["material"] = values["material"]
    if "thickness_mm" in values:
        stated["thickness_mm"] = None if line.is_tube else checked_thickness(values["thickness_mm"])
    if "grain" in values:
        if values["grain"] not in Grain.values:
            raise BadInput("Choose one of the offered grain directions.", "grain")
        stated["grain"] = values["grain"]
    if "section" in values:
        stated["section"] = checked_section(line, values["section"])
    if "note" in values:
        stated["note"] = str(values["note"])[:300]
    return stated


def checked_section(line: OrderLine, section: TubeSection | None) -> TubeSection | None:
    """The section that the line is cut from: the drawn one (also for None), or one that is near it."""
    drawn = line.part.section
    if drawn is None:
        if section is not None:
            raise BadInput(f"{line.part.name} is a sheet part and has no section.", "section")
        return None
    if section is None:
        return drawn
    if not may_take(drawn, section):
        raise BadInput(f"{section} is too far from the drawn {drawn} to be taken for it.", "section")
    return section


def checked_quantity(value: object) -> int:
    """A quantity as a whole number from 1 to MOST_PIECES; raises BadInput with a sentence otherwise."""
    try:
        quantity = int(str(value).strip())
    except ValueError as fault:
        raise BadInput(f"The quantity must be a whole number, not “{str(value)[:20]}”.", "quantity") from fault
    if not 1 <= quantity <= MOST_PIECES:
        most, asked = (f"{number:,}".replace(",", " ") for number in (MOST_PIECES, quantity))
        raise BadInput(f"The quantity must be 1 to {most}, not {asked}.", "quantity")
    return quantity


def checked_thickness(value: object) -> Decimal | None:
    """A thickness in mm with two places, or None where nothing was said; raises BadInput otherwise."""
    if value in (None, ""):
        return None
    try:
        thickness = Decimal(str(value).strip().replace(",", "."))
    except ArithmeticError as fault:
        raise BadInput(f"The thickness must be a number in mm, not “{str(value)[:20]}”.", "thickness_mm") from fault
    if not (thickness.is_finite() and Decimal("0.05") <= thickness <= 100):
        raise BadInput("The thickness must be 0.05 to 100 mm.", "thickness_mm")
    return thickness.quantize(Decimal("0.01"))
