"""Matches a section read from a file to one the shop knows; a new one is added, so that nothing read is lost."""

from decimal import Decimal

from nesting.model.section import Section
from shopfloor.stock.models import TubeSection

OUTSIDE_MM = Decimal("0.20")
WALL_MM = Decimal("0.10")
RADIUS_MM = Decimal("0.60")
"""How far a drawn section may be from a known one and still be it. Drawn tubes carry rounded table values; a cold
formed and a hot finished tube of one size differ by 0.5 T and more in the corner, which this keeps apart from 2 mm."""


_MEASURES = {
    "height_mm": ("height", OUTSIDE_MM),
    "width_mm": ("width", OUTSIDE_MM),
    "wall_mm": ("wall", WALL_MM),
    "corner_radius_mm": ("corner_radius", RADIUS_MM),
    "flange_mm": ("flange", WALL_MM),
    "root_radius_mm": ("root_radius", RADIUS_MM),
    "toe_radius_mm": ("toe_radius", RADIUS_MM),
}
"""Columns, the noun's measures in them, and how far they may differ."""


def matched_section(section: Section) -> TubeSection:
    """The shop's section nearest to the one read, within the stated differences; else a new row with its measures."""
    read = {column: Decimal(str(round(getattr(section, name), 2))) for column, (name, _) in _MEASURES.items()}
    limits = {
        f"{column}__range": (read[column] - apart, read[column] + apart) for column, (_, apart) in _MEASURES.items()
    }

    def difference(row: TubeSection) -> Decimal:
        return sum((abs(getattr(row, column) - value) for column, value in read.items()), Decimal(0))

    best = min(TubeSection.objects.filter(shape=section.shape.value, **limits), key=difference, default=None)
    if best:
        return best
    return TubeSection.objects.get_or_create(shape=section.shape.value, **read)[0]
