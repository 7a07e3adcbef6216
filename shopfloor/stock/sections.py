"""Matches a section read from a file to one the shop knows; a new one is added, so that nothing read is lost."""

from collections.abc import Iterable, Mapping
from decimal import Decimal

from nesting.model.findings import Finding, Severity
from nesting.model.part import TubePart
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


NEAR_OUTSIDE_MM = Decimal("1.00")
NEAR_WALL_MM = Decimal("0.50")
"""How far outside measures and thicknesses of another section may be for it to be named as what may be meant. Radii may
differ as they like: cold formed and hot finished tube of one size differ in them alone."""


def matched_section(section: Section) -> TubeSection:
    """The shop's section nearest to the one read, within the stated differences; else a new row with its measures."""
    best = _known(section)
    if best:
        return best
    return TubeSection.objects.get_or_create(shape=section.shape.value, **_as_columns(section))[0]


def section_findings(parts: Iterable[TubePart]) -> list[Finding]:
    """What a person should know of sections that the shop knows nearly, to be called before `matched_section`.

    A note where the shop's own is taken although it differs, and a warning where one of much the same size is known but
    differs too much to be taken unasked.
    """
    found, told = list[Finding](), set[str]()
    for part in parts:
        known = _known(part.section)
        near = known or _nearest(part.section, _NEAR)
        if near is None or not (differing := difference_words(part.section, near)):
            continue
        shop = f"{near} ({near.standard})" if near.standard else str(near)
        if known:
            words = f"is taken for the shop's {shop}, although drawn with {differing}."
            finding = Finding("section-near", Severity.NOTE, f"{part.name} {words}")
        else:
            words = (
                f"is drawn with {differing}, so it is not the shop's {shop}. If that is meant, take it on the "
                "part's line; else it is kept as a section of its own."
            )
            finding = Finding("section-other", Severity.WARNING, f"{part.name} {words}")
        if words not in told:  # of a frame of equal tubes once
            told.add(words)
            found.append(finding)
    return found


_NEAR = {
    column: NEAR_WALL_MM if apart == WALL_MM else NEAR_OUTSIDE_MM
    for column, (_, apart) in _MEASURES.items()
    if apart != RADIUS_MM
}


def _as_columns(section: Section) -> dict[str, Decimal]:
    return {column: Decimal(str(round(getattr(section, name), 2))) for column, (name, _) in _MEASURES.items()}


def _known(section: Section) -> TubeSection | None:
    return _nearest(section, {column: apart for column, (_, apart) in _MEASURES.items()})


def _nearest(section: Section, apart: Mapping[str, Decimal]) -> TubeSection | None:
    """The row of that shape that differs least, of those within `apart`."""
    read = _as_columns(section)
    limits = {f"{column}__range": (read[column] - most, read[column] + most) for column, most in apart.items()}

    rows = TubeSection.objects.filter(shape=section.shape.value, **limits)
    return min(rows, key=lambda row: total_difference(section, row), default=None)


def total_difference(section: Section, row: TubeSection) -> Decimal:
    """How far apart all measures are together, in mm."""
    return sum((abs(getattr(row, column) - value) for column, value in _as_columns(section).items()), Decimal(0))


def is_near(section: Section, row: TubeSection) -> bool:
    """Whether the row is of much the same size, so that it may be what is meant; radii may differ as they like."""
    read = _as_columns(section)
    return all(abs(getattr(row, column) - read[column]) <= most for column, most in _NEAR.items())


def difference_words(section: Section, row: TubeSection) -> str:
    """In words, "a wall of 2.9 mm instead of 3 mm"; "" where they are the same to the hundredth."""
    read, told = _as_columns(section), []
    for column, value in read.items():
        known = getattr(row, column)
        is_twice = column == "width_mm" and section.height == section.width and told  # said of the height already
        if abs(known - value) > Decimal("0.01") and not is_twice:
            told.append(f"{_CALLED[column]} of {_plain(value)} mm instead of {_plain(known)} mm")
    return " and ".join(told)


_CALLED = {
    "height_mm": "a height",
    "width_mm": "a width",
    "wall_mm": "a wall",
    "corner_radius_mm": "an outer corner radius",
    "flange_mm": "a flange",
    "root_radius_mm": "a root radius",
    "toe_radius_mm": "a toe radius",
}


def _plain(value: Decimal) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
