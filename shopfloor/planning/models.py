"""Nests: what they are to hold, how they came out, and the picture and cut file of each sheet or bar."""

from datetime import timedelta

from django.db import models
from django.db.models import F, Q

from nesting.model.nest import Nest as NestNoun
from nesting.records.nests import nest_from_record
from shopfloor.base.leases import LeasedWork
from shopfloor.base.moves import Event
from shopfloor.orders.models import OrderLine
from shopfloor.stock.models import Kind, Machine, Material, StockItem, TubeSection


class NestState(models.TextChoices):
    QUEUED = "queued", "waiting for a worker"
    LAYING = "laying", "being laid out"
    PROPOSED = "proposed", "to be compared"
    READY = "ready", "ready to release"
    RELEASED = "released", "at the machine"
    DONE = "done", "done"
    FAILED = "failed", "failed"
    THROWN_AWAY = "thrown_away", "thrown away"


LIVE = (NestState.QUEUED, NestState.LAYING, NestState.READY, NestState.RELEASED)
"""States in which a nest holds pieces that no other nest may take."""


LIVE_RIVAL = (NestState.QUEUED, NestState.LAYING, NestState.PROPOSED)
"""States in which a rival is to be, or is, compared with its nest."""


class Nest(LeasedWork):
    """Pieces of one group (material and thickness, or material and section) laid on sheets or bars for one machine.

    `result` is the checked nest record, and `version` counts how often it was changed by hand. `bound` says what no
    nest of the same pieces can do without; see `planning.bound`. While it is laid out,
    `best` tells of the best so far: {placed, wanted, yield, sheets, proven_optimal} and `best_picture` shows its first
    sheet or bar.

    A *rival* (`rival_of`) lays out the same demand as a ready nest, to be compared with it. It holds no pieces and no
    stock, and so has no demand rows, until it is chosen in the other's place. `held` are pieces of its nest that stay
    where they are, {version, sheets}: the nest's version then, and records of sheets with these pieces alone.

    With `kits_together` the parts of each order are kept on as few sheets as can be. `filled_count` of the placed
    pieces are not wanted yet and lie in room that was left over; `wanted_count` leaves such pieces out.
    """

    kind = models.CharField(max_length=5, choices=Kind)
    material = models.ForeignKey(Material, on_delete=models.PROTECT)
    thickness_mm = models.DecimalField(max_digits=6, decimal_places=2, null=True)
    section = models.ForeignKey(TubeSection, on_delete=models.PROTECT, null=True)
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT)
    state = models.CharField(max_length=12, choices=NestState, default=NestState.QUEUED)
    due_on = models.DateField()
    asked_by = models.ForeignKey("accounts.User", null=True, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField(auto_now_add=True)
    budget_s = models.PositiveSmallIntegerField(default=20)
    seed = models.PositiveIntegerField(default=0)
    stop_asked = models.BooleanField(default=False)
    started_at = models.DateTimeField(null=True)
    first_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    best = models.JSONField(null=True)
    best_picture = models.TextField(blank=True)
    result = models.JSONField(null=True)
    version = models.PositiveIntegerField(default=0)
    rival_of = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="rivals")
    held = models.JSONField(null=True)
    kits_together = models.BooleanField(default=False)
    wanted_count = models.PositiveIntegerField(default=0)
    placed_count = models.PositiveIntegerField(default=0)
    filled_count = models.PositiveIntegerField(default=0)
    yield_share = models.FloatField(null=True)
    proven_optimal = models.BooleanField(default=False)
    bound = models.JSONField(null=True)
    unplaced = models.JSONField(default=list)

    class Meta:
        ordering = ("-pk",)
        constraints = (
            models.CheckConstraint(
                condition=Q(kind="sheet", thickness_mm__isnull=False, section__isnull=True)
                | Q(kind="tube", section__isnull=False, thickness_mm__isnull=True),
                name="a_nest_has_thickness_or_section",
            ),
            models.CheckConstraint(
                condition=Q(placed_count__lte=F("wanted_count") + F("filled_count")), name="placed_le_wanted_and_filled"
            ),
            models.UniqueConstraint(
                fields=("rival_of",),
                condition=Q(state__in=LIVE_RIVAL),
                name="one_live_rival_of_a_nest",
            ),
        )
        indexes = (models.Index(fields=("state", "due_on"), name="nests_by_state_and_due"),)

    def __str__(self) -> str:
        return f"Nest {self.pk}"

    @property
    def noun(self) -> NestNoun:
        """The checked nest as the library's noun; only for a nest that has a result."""
        return nest_from_record(self.result)

    @property
    def group(self) -> str:
        """Material and thickness or section, as words."""
        measure = str(self.section) if self.section_id else f"{self.thickness_mm.normalize():f} mm"
        return f"{self.material}, {measure}"

    @property
    def wanted_placed(self) -> int:
        """How many of the wanted pieces were placed."""
        return self.placed_count - self.filled_count

    @property
    def took(self) -> timedelta | None:
        return self.finished_at - self.started_at if self.finished_at and self.started_at else None


class NestEvent(Event):
    nest = models.ForeignKey(Nest, on_delete=models.PROTECT, related_name="events")


class NestDemand(models.Model):
    """How many pieces of an order line a nest holds. While it is laid out `count` is what it may place; once it is
    ready, what it has placed. `fill_count` of them are not wanted yet: they may only fill room that is left over.
    """

    nest = models.ForeignKey(Nest, on_delete=models.PROTECT, related_name="demands")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="nest_demands")
    count = models.PositiveIntegerField()
    fill_count = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("nest", "line__order__due_on", "line")
        constraints = (
            models.UniqueConstraint(fields=("nest", "line"), name="a_line_once_per_nest"),
            models.CheckConstraint(condition=Q(fill_count__lte=F("count")), name="fill_count_le_count"),
        )

    def __str__(self) -> str:
        return f"{self.count} of {self.line}"

    @property
    def wanted_count(self) -> int:
        """How many sheets may be taken for."""
        return self.count - self.fill_count


class Layout(models.Model):
    """One sheet or bar of a nest, to be cut `copies` times: its picture, figures and cut file.

    `position` counts from 1 and is the index in the nest record plus 1. `cut_file` is DXF for sheet, a cut list as CSV
    for bars; `flat_file` is a bar laid flat as DXF, None for sheet and where the end cuts of a piece are not known.
    `remnant` is {length_mm, width_mm, outline} of what is left to keep, or None.
    """

    nest = models.ForeignKey(Nest, on_delete=models.PROTECT, related_name="layouts")
    position = models.PositiveSmallIntegerField()
    copies = models.PositiveIntegerField(default=1)
    stock = models.ForeignKey(StockItem, on_delete=models.PROTECT, related_name="layouts")
    piece_count = models.PositiveIntegerField()
    yield_share = models.FloatField()
    cut_length_mm = models.FloatField()
    pierce_count = models.PositiveIntegerField()
    remnant = models.JSONField(null=True)
    picture = models.TextField()
    cut_file = models.BinaryField()
    cut_file_name = models.CharField(max_length=120)
    flat_file = models.BinaryField(null=True)

    class Meta:
        ordering = ("nest", "position")
        constraints = (models.UniqueConstraint(fields=("nest", "position"), name="one_layout_per_position"),)

    def __str__(self) -> str:
        what = "sheet" if self.nest.kind == Kind.SHEET else "bar"
        return f"{self.nest}, {what} {self.position}"

    def named(self, ending: str) -> str:
        """The name of the layout's file with this ending, such as "dxf"."""
        return f"{self.cut_file_name.rpartition('.')[0]}.{ending}"


class PlanningRule(models.Model):
    """When a group is nested by itself, and how long an engine may think. There is one row; see `planning.rule`.

    A group is nested by itself when its waiting pieces would fill `enough_share` of the largest sheet or bar in stock,
    or when a due date is `days_ahead` or nearer.
    """

    by_itself = models.BooleanField(default=False)
    enough_share = models.FloatField(default=0.8)
    days_ahead = models.PositiveSmallIntegerField(default=2)
    budget_s = models.PositiveSmallIntegerField(default=20)

    class Meta:
        constraints = (
            models.CheckConstraint(condition=Q(pk=1), name="one_planning_rule"),
            models.CheckConstraint(condition=Q(budget_s__gte=2, budget_s__lte=600), name="budget_2_to_600_s"),
        )

    def __str__(self) -> str:
        return "planning rule"
