"""Uploaded drawings, stored once each by their content, and the parts read out of them."""

from decimal import Decimal

from django.db import models
from django.db.models import Q

from nesting.model.part import Part as PartNoun
from nesting.records.parts import part_from_record
from shopfloor.base.leases import LeasedWork
from shopfloor.base.moves import Event
from shopfloor.stock.models import Kind, TubeSection


class DrawingState(models.TextChoices):
    QUEUED = "queued", "waiting to be read"
    READING = "reading", "being read"
    USABLE = "usable", "usable"
    REFUSED = "refused", "not usable"
    FAILED = "failed", "reading failed"


class Drawing(LeasedWork):
    """One file as it was uploaded under one name, read one way.

    `digest` is the SHA-256 of its content and names the stored file. `unit` ("" = as the file says) and `join_mm` are
    answers of a person; another answer is another drawing, so that orders already entered keep what they were read as.
    """

    digest = models.CharField(max_length=64)
    name = models.CharField(max_length=200)
    size_bytes = models.PositiveBigIntegerField()
    unit = models.CharField(max_length=12, blank=True)
    join_mm = models.DecimalField(max_digits=4, decimal_places=2, default=Decimal("0.01"))
    state = models.CharField(max_length=8, choices=DrawingState, default=DrawingState.QUEUED)
    kind = models.CharField(max_length=7, blank=True)
    reading = models.JSONField(null=True, blank=True)
    picture = models.TextField(blank=True)
    read_at = models.DateTimeField(null=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("digest", "name", "unit", "join_mm"), name="one_drawing_per_reading"),
        )
        indexes = (models.Index(fields=("state", "lease_until"), name="drawings_to_sweep"),)

    def __str__(self) -> str:
        return self.name

    @property
    def findings(self) -> list[dict[str, object]]:
        """Finding records (`code`, `severity`, `message`, `at`), in the order found; none before it was read."""
        return [] if self.reading is None else list(self.reading["findings"])

    @property
    def may_be_joined(self) -> bool:
        """Whether a wider joining of loose ends is worth offering: small gaps are all that has to be corrected."""
        return {f["code"] for f in self.findings if f["severity"] == "refusal"} == {"small-gap"}

    @property
    def waits_for_answer(self) -> bool:
        """Whether a question, and nothing else, keeps the drawing from being used."""
        severities = {f["severity"] for f in self.findings}
        return self.state == DrawingState.REFUSED and "question" in severities and "refusal" not in severities

    @property
    def is_settled(self) -> bool:
        """Whether reading has come to an end, good or bad."""
        return self.state in (DrawingState.USABLE, DrawingState.REFUSED, DrawingState.FAILED)


class DrawingEvent(Event):
    drawing = models.ForeignKey(Drawing, on_delete=models.PROTECT, related_name="events")


class Part(models.Model):
    """One part of a drawing: its shape as a library record, its figures as columns for lists and sums.

    Figures are of one part. Sheet has `area_mm2`, tube the `volume_mm3` of its metal. `position` counts from 1 within
    the drawing, which holds the part `times_in_file` times.
    """

    drawing = models.ForeignKey(Drawing, on_delete=models.PROTECT, related_name="parts")
    position = models.PositiveSmallIntegerField()
    times_in_file = models.PositiveSmallIntegerField(default=1)
    name = models.CharField(max_length=220)
    kind = models.CharField(max_length=5, choices=Kind)
    shape = models.JSONField()
    picture = models.TextField(blank=True)
    length_mm = models.FloatField()
    width_mm = models.FloatField()
    area_mm2 = models.FloatField(default=0)
    volume_mm3 = models.FloatField(null=True)
    cut_length_mm = models.FloatField()
    hole_count = models.PositiveIntegerField()
    pierce_count = models.PositiveIntegerField()
    section = models.ForeignKey(TubeSection, on_delete=models.PROTECT, null=True, related_name="parts")

    class Meta:
        ordering = ("drawing", "position")
        constraints = (
            models.UniqueConstraint(fields=("drawing", "position"), name="one_part_per_position"),
            models.CheckConstraint(
                condition=Q(kind="sheet", section__isnull=True) | Q(kind="tube", section__isnull=False),
                name="a_tube_part_has_a_section",
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def noun(self) -> PartNoun:
        """The part as the library's noun."""
        return part_from_record(self.shape)

    def mass_kg(self, thickness_mm: Decimal | None, density_kg_m3: Decimal) -> float:
        """Mass of one part; tube needs no thickness."""
        if self.volume_mm3 is not None:
            return self.volume_mm3 * float(density_kg_m3) * 1e-9
        return self.area_mm2 * float(thickness_mm or 0) * float(density_kg_m3) * 1e-9
