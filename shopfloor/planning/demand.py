"""What is still to be nested, of all confirmed orders together, in groups that can share a sheet or bar."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import F

from shopfloor.orders.models import UNDER_WAY, OrderLine, OrderState
from shopfloor.stock.models import Kind, Material, StockItem, TubeSection


@dataclass(frozen=True)
class GroupKey:
    """What pieces must have in common to be nested together: kind, material, and thickness or section."""

    kind: str
    material_id: int
    thickness_mm: Decimal | None
    section_id: int | None

    @property
    def slug(self) -> str:
        """A short form for addresses and forms; `key_from_slug` reads it back."""
        return f"{self.kind}-{self.material_id}-{self.thickness_mm or ''}-{self.section_id or ''}"


def key_from_slug(slug: str) -> GroupKey:
    """Raises ValueError where the text is not a slug of a group."""
    kind, material, thickness, section = slug.split("-")
    if kind not in Kind.values:
        raise ValueError(slug)
    try:
        thickness_mm = Decimal(thickness).quantize(Decimal("0.01")) if thickness else None
    except ArithmeticError as fault:
        raise ValueError(slug) from fault
    if thickness_mm is not None and not thickness_mm.is_finite():
        raise ValueError(slug)
    return GroupKey(kind, int(material), thickness_mm, int(section) if section else None)


@dataclass
class Group:
    """Open lines of one group, earliest due first, with what they come to."""

    key: GroupKey
    material: Material
    section: TubeSection | None
    lines: list[OrderLine] = field(default_factory=list)

    @property
    def kind(self) -> str:
        return self.key.kind

    @property
    def piece_count(self) -> int:
        return sum(line.open_count for line in self.lines)

    @property
    def due_on(self) -> date:
        return min(line.order.due_on for line in self.lines)

    @property
    def orders(self) -> list[str]:
        """Numbers of the orders in it, earliest due first, each once."""
        return list(dict.fromkeys(line.order.number for line in self.lines))

    @property
    def amount(self) -> float:
        """Net area in mm² of the open pieces, or their length in mm for tube."""
        return sum(line.open_count * amount_of(line) for line in self.lines)

    @property
    def title(self) -> str:
        measure = str(self.section) if self.section else f"{(self.key.thickness_mm or Decimal(0)).normalize():f} mm"
        return f"{self.material}, {measure}"


def amount_of(line: OrderLine) -> float:
    return line.part.length_mm if line.is_tube else line.part.area_mm2


def open_lines() -> Iterable[OrderLine]:
    """Confirmed lines with pieces still to be nested, earliest due first."""
    return (
        OrderLine.objects.filter(order__state=OrderState.CONFIRMED)
        .alias(under_way=UNDER_WAY)
        .filter(under_way__lt=F("quantity"))
        .select_related("order__customer", "part", "material", "section")
        .defer("part__shape", "part__picture")
        .order_by("order__due_on", "pk")
    )


def key_of(line: OrderLine) -> GroupKey:
    kind = Kind.TUBE if line.is_tube else Kind.SHEET
    return GroupKey(str(kind), line.material_id, None if line.is_tube else line.thickness_mm, line.section_id)


def waiting_groups() -> list[Group]:
    """All groups with open pieces, earliest due first."""
    groups: dict[GroupKey, Group] = {}
    for line in open_lines():
        key = key_of(line)
        if key not in groups:
            groups[key] = Group(key, line.material, line.section)
        groups[key].lines.append(line)
    return sorted(groups.values(), key=lambda g: (g.due_on, g.title))


def group_of(key: GroupKey) -> Group | None:
    """One group with its open lines, or None where nothing waits in it."""
    return next((group for group in waiting_groups() if group.key == key), None)


def free_stock(key: GroupKey) -> list[StockItem]:
    """Stock of the group of which at least one is free, remnants first, then smallest first."""
    items = StockItem.objects.filter(kind=key.kind, material_id=key.material_id)
    items = (
        items.filter(thickness_mm=key.thickness_mm)
        if key.kind == Kind.SHEET
        else items.filter(section_id=key.section_id)
    )
    usable = [item for item in items.select_related("material", "section") if item.free is None or item.free > 0]
    return sorted(usable, key=lambda i: (not i.is_remnant, i.length_mm * (i.width_mm or 1), i.pk))


def stock_by_group(keys: Iterable[GroupKey]) -> dict[GroupKey, list[StockItem]]:
    """`free_stock` of many groups in one query, for the page of waiting work."""
    wanted, found = set(keys), defaultdict(list)
    for item in StockItem.objects.select_related("material", "section"):
        key = GroupKey(item.kind, item.material_id, item.thickness_mm, item.section_id)
        if key in wanted and (item.free is None or item.free > 0):
            found[key].append(item)
    return dict(found)
