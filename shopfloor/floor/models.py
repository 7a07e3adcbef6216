"""Loads at the machine, the workpieces on them, and the events marked on the tablet.

A *load* is one sheet or bar put on the machine once: a layout of a released nest with its copy number. A *workpiece* is
one piece on a load, for one order line.
"""

from datetime import timedelta

from django.db import models

from shopfloor.base.moves import Event
from shopfloor.orders.models import OrderLine
from shopfloor.planning.models import Layout
from shopfloor.stock.models import Machine, StockItem


class LoadState(models.TextChoices):
    WAITING = "waiting", "waiting"
    AT_MACHINE = "at_machine", "at the machine"
    CUT = "cut", "cut"
    BROKEN_OUT = "broken_out", "broken out"
    INSPECTED = "inspected", "inspected"
    FAILED = "failed", "failed"
    RECALLED = "recalled", "recalled"


ENDED = (LoadState.INSPECTED, LoadState.FAILED, LoadState.RECALLED)


class Load(models.Model):
    """One sheet or bar to cut. `heat_no` is copied from the stock when the load is pulled, so that it outlasts it."""

    layout = models.ForeignKey(Layout, on_delete=models.PROTECT, related_name="loads")
    copy_no = models.PositiveIntegerField()
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="loads")
    stock = models.ForeignKey(StockItem, on_delete=models.PROTECT, related_name="loads")
    state = models.CharField(max_length=10, choices=LoadState, default=LoadState.WAITING)
    due_on = models.DateField()
    released_at = models.DateTimeField(auto_now_add=True)
    pulled_by = models.ForeignKey("accounts.User", null=True, on_delete=models.PROTECT, related_name="+")
    pulled_at = models.DateTimeField(null=True)
    cut_at = models.DateTimeField(null=True)
    heat_no = models.CharField(max_length=60, blank=True)
    remnant = models.ForeignKey(StockItem, null=True, on_delete=models.SET_NULL, related_name="left_by")

    class Meta:
        ordering = ("due_on", "layout__nest", "layout__position", "copy_no", "pk")
        constraints = (
            # A nest may be recalled and released again: then the old loads stay as history.
            models.UniqueConstraint(
                fields=("layout", "copy_no"), condition=~models.Q(state="recalled"), name="one_live_load_per_copy"
            ),
        )
        indexes = (models.Index(fields=("machine", "state", "due_on"), name="queue_of_a_machine"),)

    def __str__(self) -> str:
        copies = f", {self.copy_no} of {self.layout.copies}" if self.layout.copies > 1 else ""
        return f"{self.layout}{copies}"

    @property
    def cut_took(self) -> timedelta | None:
        """From pulling to marking cut: what it truly took at the machine, loading included."""
        return self.cut_at - self.pulled_at if self.cut_at and self.pulled_at else None


class WorkpieceState(models.TextChoices):
    NESTED = "nested", "nested"
    CUT = "cut", "cut"
    BROKEN_OUT = "broken_out", "broken out"
    GOOD = "good", "good"
    REWORK = "rework", "rework"
    SCRAP = "scrapped", "scrap"
    LOST = "lost", "lost"
    RECALLED = "recalled", "recalled"


class ScrapReason(models.TextChoices):
    """Why a piece was not good. Common practice, no source."""

    DIMENSION = "dimension", "measures off"
    LOST_CUT = "lost_cut", "lost cut"
    DROSS = "dross", "dross or burr"
    TIPPED = "tipped", "tipped up"
    WRONG_MATERIAL = "wrong_material", "wrong material or thickness"
    HANDLING = "handling", "damaged in handling"
    PROGRAM = "program", "drawing or nest wrong"
    OTHER = "other", "other"


class Workpiece(models.Model):
    """One piece. `number` is its place on the picture and in the cut file, from 1."""

    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="workpieces")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="workpieces")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=10, choices=WorkpieceState, default=WorkpieceState.NESTED)
    reason = models.CharField(max_length=16, choices=ScrapReason, blank=True)

    class Meta:
        ordering = ("load", "number")
        constraints = (models.UniqueConstraint(fields=("load", "number"), name="one_workpiece_per_number"),)
        indexes = (models.Index(fields=("line", "state"), name="workpieces_of_a_line"),)

    def __str__(self) -> str:
        return f"piece {self.number} of {self.load}"


class FloorEvent(Event):
    """Something marked on a load.

    `pieces` lists what changed: [[number, from, to, reason before, reason], ...]. `undoes` names the event that this
    one takes back.
    """

    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="events")
    pieces = models.JSONField(default=list)
    undoes = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="undone_by")
    detail = models.JSONField(default=dict)

    class Meta:
        ordering = ("-at", "-pk")
