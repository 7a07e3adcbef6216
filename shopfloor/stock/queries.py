"""One function for each stock page, with all that the page touches."""

from dataclasses import dataclass, field

from django.db.models import Q, QuerySet

from shopfloor.stock.models import CuttingRule, Kind, Machine, Material, StockEvent, StockItem, TubeSection


@dataclass
class Rack:
    """Stock that can take each other's place: one material at one thickness, or in one section."""

    material: Material
    measure: object
    kind: str
    items: list[StockItem] = field(default_factory=list)


def racks(words: str = "", *, with_empty: bool = False) -> list[Rack]:
    """Stock by material and thickness or section; items of which none is left only where asked for."""
    items = StockItem.objects.select_related("material", "section")
    if not with_empty:
        items = items.filter(Q(on_hand__isnull=True) | Q(on_hand__gt=0))
    for word in words.split():
        items = items.filter(Q(material__name__icontains=word) | Q(heat_no__icontains=word) | Q(place__icontains=word))
    found: dict[tuple[object, ...], Rack] = {}
    for item in items.order_by("material__name", "kind", "thickness_mm", "section", "is_remnant", "-length_mm", "pk"):
        key = (item.material_id, item.kind, item.thickness_mm, item.section_id)
        measure = item.section if item.kind == Kind.TUBE else item.thickness_mm
        found.setdefault(key, Rack(item.material, measure, item.kind)).items.append(item)
    return list(found.values())


@dataclass(frozen=True)
class FirstStep:
    """One thing a new shop needs before it can nest, the page where it is entered, and why."""

    what: str
    page: str
    why: str
    is_done: bool


def first_steps() -> list[FirstStep]:
    """What a shop without orders has still to enter, in the order in which it is needed."""
    return [
        FirstStep(
            "Add a material",
            "stock:material-list",
            "with its density: orders and stock name it.",
            Material.objects.exists(),
        ),
        FirstStep(
            "Add a machine",
            "stock:machine-list",
            "what it can take decides what is nested for it.",
            Machine.objects.exists(),
        ),
        FirstStep(
            "Enter stock", "stock:item-new", "the sheets and bars that lie in the rack.", StockItem.objects.exists()
        ),
    ]


def item_with_history(item_id: int) -> tuple[StockItem, QuerySet[StockEvent]] | None:
    item = StockItem.objects.select_related("material", "section").filter(pk=item_id).first()
    if item is None:
        return None
    return item, StockEvent.objects.filter(item=item).select_related("actor").order_by("-pk")[:50]


def materials() -> QuerySet[Material]:
    return Material.objects.prefetch_related("rules")


def rules() -> QuerySet[CuttingRule]:
    return CuttingRule.objects.select_related("material").order_by("material__name", "kind", "thickness_mm")


def machines() -> QuerySet[Machine]:
    return Machine.objects.prefetch_related("materials")


def sections() -> QuerySet[TubeSection]:
    return TubeSection.objects.all()
