"""What a machine keeps free along the edges of a sheet, for the clamps of its table.

Edges are told as the operator sees them from the machine's front: the sheet's length runs from left to right, and the
corner that cut files count from is at the front on the left.
"""

from django.db import models
from django.db.models import F, Q

from nesting.model.nest import Sides

FREE_EDGES = ("free_left_mm", "free_front_mm", "free_right_mm", "free_back_mm")


class KeepsEdgesFree(models.Model):
    """Columns for the strips where nothing is laid, 0 where parts may lie as near to the edge as the margin lets them.

    A strip is counted from the sheet's edge, as the margin is; of the two the wider counts.
    """

    free_left_mm = models.PositiveIntegerField(default=0, blank=True)
    free_front_mm = models.PositiveIntegerField(default=0, blank=True)
    free_right_mm = models.PositiveIntegerField(default=0, blank=True)
    free_back_mm = models.PositiveIntegerField(default=0, blank=True)

    class Meta:
        abstract = True

    @property
    def sides(self) -> Sides:
        """The strips as the library takes them: x runs along the sheet's length, y from front to back."""
        return Sides(
            left=float(self.free_left_mm),
            bottom=float(self.free_front_mm),
            right=float(self.free_right_mm),
            top=float(self.free_back_mm),
        )

    @property
    def kept_free(self) -> list[tuple[str, int]]:
        """(edge, millimetres) of each strip there is."""
        edges = (
            ("left", self.free_left_mm),
            ("front", self.free_front_mm),
            ("right", self.free_right_mm),
            ("back", self.free_back_mm),
        )
        return [(edge, width) for edge, width in edges if width]


ROOM_BETWEEN_STRIPS = Q(table_length_mm__isnull=True, **dict.fromkeys(FREE_EDGES, 0)) | Q(
    table_length_mm__isnull=False,
    table_width_mm__isnull=False,
    table_length_mm__gt=F("free_left_mm") + F("free_right_mm"),
    table_width_mm__gt=F("free_front_mm") + F("free_back_mm"),
)
"""A table has room between what is kept free along its edges, and without a table nothing is kept free."""
