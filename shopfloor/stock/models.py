"""What the shop cuts from, on what, and by which rules."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from nesting.errors import BadValue
from nesting.model.section import SOLID, SectionShape
from nesting.model.section import Section as SectionNoun
from nesting.records.parts import contour_from_record
from shopfloor.base.moves import Event
from shopfloor.stock.cautions import cautions_of, handling_cautions
from shopfloor.stock.choices import Family, LoadingSide, Seam, Turns
from shopfloor.stock.kept_free import ROOM_BETWEEN_STRIPS, KeepsEdgesFree


class Material(models.Model):
    """A material by its trade name. The cautions follow from its family, with the shop's own added."""

    name = models.CharField(max_length=80, unique=True)
    grade = models.CharField(max_length=60, blank=True)
    family = models.CharField(max_length=12, choices=Family, default=Family.MILD)
    density_kg_m3 = models.DecimalField(max_digits=7, decimal_places=1, default=Decimal(7850))
    own_caution = models.TextField(blank=True)

    class Meta:
        ordering = ("name",)
        constraints = (models.CheckConstraint(condition=Q(density_kg_m3__gt=0), name="density_above_zero"),)

    def __str__(self) -> str:
        return self.name

    @property
    def cautions(self) -> list[str]:
        return cautions_of(self.family) + ([self.own_caution] if self.own_caution else [])


PROFILE_MEASURES = ("flange_mm", "root_radius_mm", "toe_radius_mm")
"""Measures of open profiles, 0 for all other sections."""

SECTION_KEY = ("shape", "height_mm", "width_mm", "wall_mm", "corner_radius_mm", *PROFILE_MEASURES)
"""What tells sections apart."""


class TubeSection(models.Model):
    """A section of tube, profile or bar the shop knows, with the measures of the library's noun.

    For round tube and bar height and width are the diameter; the wall of solid bar is its width.
    """

    class Shape(models.TextChoices):
        SQUARE = "square", "square tube"
        RECTANGULAR = "rectangular", "rectangular tube"
        ROUND = "round", "round tube"
        OVAL = "oval", "oval tube"
        ANGLE = "angle", "angle"
        CHANNEL = "channel", "channel"
        I_BEAM = "i-beam", "I or H"
        TEE = "tee", "T"
        FLAT_BAR = "flat bar", "flat bar"
        SQUARE_BAR = "square bar", "square bar"
        ROUND_BAR = "round bar", "round bar"

    shape = models.CharField(max_length=12, choices=Shape)
    height_mm = models.DecimalField(max_digits=7, decimal_places=2)
    width_mm = models.DecimalField(max_digits=7, decimal_places=2)
    wall_mm = models.DecimalField(max_digits=6, decimal_places=2)
    corner_radius_mm = models.DecimalField(max_digits=6, decimal_places=2, default=Decimal(0))
    flange_mm = models.DecimalField(max_digits=6, decimal_places=2, default=Decimal(0))
    root_radius_mm = models.DecimalField(max_digits=6, decimal_places=2, default=Decimal(0))
    toe_radius_mm = models.DecimalField(max_digits=6, decimal_places=2, default=Decimal(0))
    standard = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ("shape", "height_mm", "width_mm", "wall_mm")
        constraints = (
            models.UniqueConstraint(fields=SECTION_KEY, name="one_row_per_section"),
            models.CheckConstraint(condition=Q(wall_mm__gt=0, width_mm__gt=0), name="section_measures_above_zero"),
            # The height of a channel, I or T runs along its web, which may be the shorter measure.
            models.CheckConstraint(
                condition=Q(height_mm__gte=F("width_mm")) | Q(shape__in=("channel", "i-beam", "tee")),
                name="section_height_is_longer_side",
            ),
        )

    def __str__(self) -> str:
        return str(self.noun)

    def clean(self) -> None:
        """Refuses measures that make no section, since nothing that names such a row could be shown."""
        super().clean()
        rest = (self.corner_radius_mm, self.flange_mm, self.root_radius_mm, self.toe_radius_mm)
        if None in (self.height_mm, self.width_mm, self.wall_mm, *rest):
            return
        try:
            noun = self.noun
        except BadValue as fault:
            raise ValidationError(str(fault)) from fault
        if self.shape == self.Shape.RECTANGULAR and self.height_mm < self.width_mm:
            raise ValidationError("The height is the longer side of a section: swap height and width.")
        if noun.shape != self.shape or float(self.width_mm) != noun.width:
            raise ValidationError(
                "Height and width of round and square tube are the same, and those of rectangular tube differ."
            )

    @property
    def noun(self) -> SectionNoun:
        """The section as the library's noun."""
        sides, wall = (float(self.height_mm), float(self.width_mm)), float(self.wall_mm)
        corner, rest = float(self.corner_radius_mm), (self.flange_mm, self.root_radius_mm, self.toe_radius_mm)
        if self.shape == self.Shape.ROUND:
            return SectionNoun.round(sides[0], wall)
        if self.shape in (self.Shape.SQUARE, self.Shape.RECTANGULAR):
            return SectionNoun.box(*sides, wall, corner)
        if self.shape == self.Shape.OVAL:
            return SectionNoun.oval(*sides, wall)
        shape = SectionShape(self.shape)
        return SectionNoun(shape, *sides, sides[1] if shape in SOLID else wall, corner, None, *map(float, rest))


class Kind(models.TextChoices):
    SHEET = "sheet", "sheet"
    TUBE = "tube", "tube"


class CuttingRule(models.Model):
    """Gap, margin, turns and the settings note for a material at one thickness; without thickness for all others.

    `gap_mm` lies between two parts, cut width included. `margin_mm` is kept from the sheet's edge; at most `most_kinds`
    different parts lie on one sheet (None: any number). Neither has a meaning on bars, and `seam_towards` none on
    sheets; "" means that it does not matter where the seam lies.
    """

    material = models.ForeignKey(Material, on_delete=models.CASCADE, related_name="rules")
    kind = models.CharField(max_length=5, choices=Kind, default=Kind.SHEET)
    thickness_mm = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    gap_mm = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(5))
    margin_mm = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(10))
    most_kinds = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MinValueValidator(1)])
    turns = models.CharField(max_length=8, choices=Turns, default=Turns.QUARTER)
    seam_towards = models.CharField(max_length=8, choices=Seam, blank=True)
    settings_note = models.TextField(blank=True)

    class Meta:
        ordering = ("material", "kind", F("thickness_mm").asc(nulls_first=True))
        constraints = (
            models.UniqueConstraint(fields=("material", "kind", "thickness_mm"), name="one_rule_per_thickness"),
            models.UniqueConstraint(
                fields=("material", "kind"), condition=Q(thickness_mm=None), name="one_rule_for_other_thicknesses"
            ),
            models.CheckConstraint(condition=Q(gap_mm__gte=0, margin_mm__gte=0), name="gap_and_margin_not_negative"),
            models.CheckConstraint(
                condition=Q(most_kinds__isnull=True) | Q(most_kinds__isnull=False, most_kinds__gte=1),
                name="a_sheet_may_hold_at_least_one_kind_of_part",
            ),
        )

    def __str__(self) -> str:
        thickness = "other thicknesses" if self.thickness_mm is None else f"{self.thickness_mm.normalize():f} mm"
        return f"{self.material}, {self.kind}, {thickness}"


class Machine(KeepsEdgesFree):
    """A machine that cuts. Tube columns are empty where it has no chuck, sheet columns where it has no table.

    Constraints here and below ask for "not null" beside "above 0": a database takes a comparison with null for no
    objection.

    `chuck_dead_mm` is the far end of a bar that the chuck holds and that is never cut into.
    """

    name = models.CharField(max_length=60, unique=True)
    table_length_mm = models.PositiveIntegerField(null=True, blank=True)
    table_width_mm = models.PositiveIntegerField(null=True, blank=True)
    longest_bar_mm = models.PositiveIntegerField(null=True, blank=True)
    chuck_dead_mm = models.PositiveIntegerField(null=True, blank=True)
    front_trim_mm = models.PositiveIntegerField(default=0)
    loading_side = models.CharField(max_length=5, choices=LoadingSide, blank=True)
    materials = models.ManyToManyField(Material, blank=True, help_text="Empty: every material.")
    note = models.TextField(blank=True)
    in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ("name",)
        constraints = (
            models.CheckConstraint(
                condition=Q(table_length_mm__isnull=True, table_width_mm__isnull=True)
                | Q(
                    table_length_mm__isnull=False,
                    table_width_mm__isnull=False,
                    table_length_mm__gt=0,
                    table_width_mm__gt=0,
                ),
                name="a_table_has_length_and_width",
            ),
            models.CheckConstraint(
                condition=Q(longest_bar_mm__isnull=True, chuck_dead_mm__isnull=True)
                | Q(longest_bar_mm__isnull=False, chuck_dead_mm__isnull=False, longest_bar_mm__gt=F("chuck_dead_mm")),
                name="a_chuck_has_bar_length_and_dead_end",
            ),
            models.CheckConstraint(condition=ROOM_BETWEEN_STRIPS, name="a_table_has_room_between_the_edges_kept_free"),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def cuts_sheet(self) -> bool:
        return self.table_length_mm is not None

    @property
    def cuts_tube(self) -> bool:
        return self.longest_bar_mm is not None


class StockItem(models.Model):
    """Sheets, bars or remnants that are all alike: same material, measures, heat and place.

    `on_hand` counts what lies in the rack, `reserved` how many of those a nest has been promised; `on_hand` None means
    it is not counted and there is always enough. A remnant may have an `outline` (contour record); else a sheet is a
    rectangle, length along x.
    """

    kind = models.CharField(max_length=5, choices=Kind)
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="stock")
    thickness_mm = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    section = models.ForeignKey(TubeSection, on_delete=models.PROTECT, null=True, blank=True, related_name="stock")
    length_mm = models.DecimalField(max_digits=8, decimal_places=1, validators=[MinValueValidator(Decimal(1))])
    width_mm = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    outline = models.JSONField(null=True, blank=True)
    on_hand = models.PositiveIntegerField(null=True, blank=True, default=1)
    reserved = models.PositiveIntegerField(default=0, editable=False)
    heat_no = models.CharField("heat or lot number", max_length=60, blank=True)
    place = models.CharField(max_length=60, blank=True)
    is_remnant = models.BooleanField(default=False)
    came_from = models.CharField(max_length=120, blank=True)
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ("kind", "material", "thickness_mm", "section", "is_remnant", "-length_mm", "pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(on_hand__isnull=True) | Q(reserved__lte=F("on_hand")), name="reserved_le_on_hand"
            ),
            models.CheckConstraint(
                condition=Q(
                    kind="sheet",
                    thickness_mm__isnull=False,
                    width_mm__isnull=False,
                    thickness_mm__gt=0,
                    width_mm__gt=0,
                    section__isnull=True,
                )
                | Q(kind="tube", section__isnull=False, thickness_mm__isnull=True, width_mm__isnull=True),
                name="a_sheet_has_thickness_and_width_a_bar_has_section",
            ),
            models.CheckConstraint(condition=Q(length_mm__gt=0), name="stock_length_above_zero"),
        )
        indexes = (models.Index(fields=("kind", "material", "thickness_mm", "section"), name="stock_of_a_group"),)

    def __str__(self) -> str:
        what = "remnant " if self.is_remnant else ""
        if self.kind == Kind.TUBE:
            return f"{what}{self.material}, {self.section}, {self.length_mm:.0f} mm"
        return f"{what}{self.material} {self.thickness_mm:.1f} mm, {self.length_mm:.0f} x {self.width_mm:.0f}"

    @property
    def free(self) -> int | None:
        """How many are not promised to a nest; None where they are not counted."""
        return None if self.on_hand is None else self.on_hand - self.reserved

    @property
    def handling_cautions(self) -> list[str]:
        """What to watch for when one is lifted and loaded."""
        return handling_cautions(self.mass_kg, float(self.length_mm) if self.kind == Kind.TUBE else None)

    @property
    def mass_kg(self) -> float:
        """The mass of one."""
        density = float(self.material.density_kg_m3)
        if self.kind == Kind.TUBE:
            assert self.section is not None  # noqa: S101 - the constraint holds it
            return self.section.noun.mass(float(self.length_mm), density)
        area = contour_from_record(self.outline).area if self.outline else float(self.length_mm * self.width_mm)
        return area * float(self.thickness_mm) * density * 1e-9


class StockEvent(Event):
    """A stock item was entered or corrected by hand; `why` says what changed."""

    item = models.ForeignKey(StockItem, on_delete=models.PROTECT, related_name="events")

    class Meta:
        ordering = ("-at", "-pk")
