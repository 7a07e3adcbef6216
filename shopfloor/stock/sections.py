"""Matches a section read from a file to one the shop knows; a new one is added, so that nothing read is lost."""

from decimal import Decimal

from nesting.model.section import Section
from shopfloor.stock.models import TubeSection

OUTSIDE_MM = Decimal("0.20")
WALL_MM = Decimal("0.10")
RADIUS_MM = Decimal("0.60")
"""How far a drawn section may be from a known one and still be it. Drawn tubes carry rounded table values; a cold
formed and a hot finished tube of one size differ by 0.5 T and more in the corner, which this keeps apart from 2 mm."""


def matched_section(section: Section) -> TubeSection:
    """The shop's section nearest to the one read, within the stated differences; else a new row with its measures."""
    height, width, wall, radius = (
        Decimal(str(round(value, 2))) for value in (section.height, section.width, section.wall, section.corner_radius)
    )
    near = TubeSection.objects.filter(
        shape=section.shape.value,
        height_mm__range=(height - OUTSIDE_MM, height + OUTSIDE_MM),
        width_mm__range=(width - OUTSIDE_MM, width + OUTSIDE_MM),
        wall_mm__range=(wall - WALL_MM, wall + WALL_MM),
        corner_radius_mm__range=(radius - RADIUS_MM, radius + RADIUS_MM),
    )

    def difference(row: TubeSection) -> Decimal:
        return (
            abs(row.height_mm - height)
            + abs(row.width_mm - width)
            + abs(row.wall_mm - wall)
            + abs(row.corner_radius_mm - radius)
        )

    best = min(near, key=difference, default=None)
    if best:
        return best
    return TubeSection.objects.get_or_create(
        shape=section.shape.value, height_mm=height, width_mm=width, wall_mm=wall, corner_radius_mm=radius
    )[0]
