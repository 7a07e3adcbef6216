"""Customers, orders, their lines, and the ledger of how far each line's pieces have come."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from shopfloor.base.moves import Event
from shopfloor.parts.models import Drawing, Part
from shopfloor.stock.models import Material, TubeSection

MOST_PIECES = 100_000
"""More pieces than a small shop cuts for one line; beyond it a quantity is taken for a typing error."""


class Customer(models.Model):
    name = models.CharField(max_length=120, unique=True)
    contact = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class OrderState(models.TextChoices):
    DRAFT = "draft", "being entered"
    CONFIRMED = "confirmed", "in work"
    COMPLETE = "complete", "complete"
    HANDED_OVER = "handed_over", "handed over"
    CANCELLED = "cancelled", "cancelled"


class Order(models.Model):
    """An order of one customer. `reference` is the customer's own; ours is the number."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="orders")
    reference = models.CharField(max_length=80, blank=True)
    due_on = models.DateField()
    note = models.TextField(blank=True)
    state = models.CharField(max_length=12, choices=OrderState, default=OrderState.DRAFT)
    # What lines start with that come when their file has been read.
    usual_material = models.ForeignKey(Material, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    usual_thickness_mm = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    entered_at = models.DateTimeField(auto_now_add=True)
    completed_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ("due_on", "pk")
        indexes = (models.Index(fields=("state", "due_on"), name="order_board"),)

    def __str__(self) -> str:
        return f"Order {self.number}"

    @property
    def number(self) -> str:
        return f"{self.pk:04d}"


class OrderEvent(Event):
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="events")


class OrderFile(models.Model):
    """A drawing that was put into an order. Its lines, one a part, come when it has been read."""

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="files")
    drawing = models.ForeignKey(Drawing, on_delete=models.PROTECT, related_name="order_files")
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("pk",)
        constraints = (models.UniqueConstraint(fields=("order", "drawing"), name="a_drawing_once_per_order"),)

    def __str__(self) -> str:
        return self.drawing.name


class Grain(models.TextChoices):
    """How the part's own x axis must lie to the grain, which runs along the sheet's length."""

    NONE = "none", "any way"
    ALONG = "along", "along the part's length"
    ACROSS = "across", "across the part's length"


STEPS = ("planned", "nested", "cut", "broken_out", "rework", "good")
"""Where a piece that is under way stands, in the order of the work; each is a counter `<step>_count` on its line."""

UNDER_WAY = F("planned_count") + F("nested_count") + F("cut_count")
UNDER_WAY += F("broken_out_count") + F("rework_count") + F("good_count")
"""How many pieces of a line are in some step, for queries."""

LOSSES = ("scrapped", "lost")
"""How a piece may end without being delivered; it is then to be made again."""


class OrderLine(models.Model):
    """So many of one part. The counters say where its pieces stand; what is in none of them is still to be nested.

    Counters are sums of `LineEvent` rows and change only through `orders.progress`.
    """

    order = models.ForeignKey(Order, on_delete=models.CASCADE, related_name="lines")
    file = models.ForeignKey(OrderFile, on_delete=models.CASCADE, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="order_lines")
    quantity = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(MOST_PIECES)])
    material = models.ForeignKey(Material, on_delete=models.PROTECT, null=True, blank=True)
    thickness_mm = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    section = models.ForeignKey(TubeSection, on_delete=models.PROTECT, null=True, blank=True)
    grain = models.CharField(max_length=6, choices=Grain, default=Grain.NONE)
    note = models.CharField(max_length=300, blank=True)
    planned_count = models.PositiveIntegerField(default=0, editable=False)
    nested_count = models.PositiveIntegerField(default=0, editable=False)
    cut_count = models.PositiveIntegerField(default=0, editable=False)
    broken_out_count = models.PositiveIntegerField(default=0, editable=False)
    rework_count = models.PositiveIntegerField(default=0, editable=False)
    good_count = models.PositiveIntegerField(default=0, editable=False)
    scrapped_count = models.PositiveIntegerField(default=0, editable=False)
    lost_count = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.UniqueConstraint(fields=("order", "part"), name="a_part_once_per_order"),
            models.CheckConstraint(condition=Q(quantity__gte=1, quantity__lte=MOST_PIECES), name="quantity_in_range"),
            models.CheckConstraint(
                condition=Q(quantity__gte=UNDER_WAY),
                name="pieces_under_way_le_quantity",
            ),
        )
        indexes = (models.Index(fields=("material", "thickness_mm", "section"), name="lines_of_a_group"),)

    def __str__(self) -> str:
        return f"{self.quantity} x {self.part.name}"

    @property
    def is_tube(self) -> bool:
        return self.section_id is not None

    @property
    def under_way_count(self) -> int:
        return sum(getattr(self, f"{step}_count") for step in STEPS)

    @property
    def open_count(self) -> int:
        """How many are still to be nested."""
        return self.quantity - self.under_way_count

    @property
    def missing(self) -> list[str]:
        """What must still be said before the order can be confirmed, as words."""
        words = [] if self.material_id else ["material"]
        if not self.is_tube and self.thickness_mm is None:
            words.append("thickness")
        return words


class LineEvent(models.Model):
    """So many pieces of a line went from one step to another: added, never changed.

    `from_step` "" means they were open, `to_step` "" that they are open again. `place` says in words on which nest and
    sheet or bar.
    """

    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="events")
    at = models.DateTimeField(auto_now_add=True)
    actor = models.ForeignKey("accounts.User", null=True, on_delete=models.PROTECT, related_name="+")
    from_step = models.CharField(max_length=10, blank=True)
    to_step = models.CharField(max_length=10, blank=True)
    count = models.PositiveIntegerField()
    place = models.CharField(max_length=120, blank=True)
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("-at", "-pk")
        constraints = (models.CheckConstraint(condition=Q(count__gte=1), name="a_line_event_counts_pieces"),)

    def __str__(self) -> str:
        return f"{self.count} {self.from_step or 'open'} to {self.to_step or 'open'}"
