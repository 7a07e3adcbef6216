"""How far a tube may be off its nominal measures by the standard its section names, to tell beside what was measured.

Source: EN 10219-2:2006 and EN 10210-2:2006 by a steel industry's public page of tolerances. Other standards are not
known here, and nothing is said of them.
"""

from shopfloor.stock.models import TubeSection

COLD, HOT = "EN 10219-2", "EN 10210-2"
LEAST_MM = 0.5
MOST_ROUND_MM = 10.0
TWIST_MM, TWIST_MM_PER_M = 2.0, 0.5


def outside_tolerance(section: TubeSection, nominal_mm: float) -> float | None:
    """How far an outside measure may be off either way, in mm; None where the section's standard is not known."""
    standard = _standard(section)
    if standard is None:
        return None
    if section.shape == TubeSection.Shape.ROUND:
        return min(max(0.01 * nominal_mm, LEAST_MM), MOST_ROUND_MM)
    share = 0.01
    if standard == COLD and nominal_mm >= 100.0:
        share = 0.008 if nominal_mm <= 200.0 else 0.006
    return max(share * nominal_mm, LEAST_MM)


def twist_tolerance(section: TubeSection, length_mm: float) -> float | None:
    """How far one corner of a square or rectangular tube of that length may stand off a flat surface, in mm."""
    if _standard(section) is None or section.shape not in (TubeSection.Shape.SQUARE, TubeSection.Shape.RECTANGULAR):
        return None
    return TWIST_MM + TWIST_MM_PER_M * length_mm / 1000.0


def _standard(section: TubeSection) -> str | None:
    return next((name for name in (COLD, HOT) if name in section.standard), None)
