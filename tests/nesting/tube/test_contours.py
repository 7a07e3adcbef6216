import math

import numpy as np
import pytest

from nesting.model.section import Section
from nesting.tube.contours import Place, chained, edges_at, places
from nesting.tube.measuring import measure
from nesting.tube.section_finder import faces_along, find_section
from nesting.tube.tube_solids import Cope, Hole, Mitre, Placement, Slot, Tube, Window, tube_solid
from tests import other_solids


def contours_of(solid):
    measured = measure(solid)
    section = find_section(measured, faces_along(measured))
    where = places(measured, section)
    return section, chained(measured, edges_at(measured, where, Place.OUTER), section, section.outer)


def is_turned_round(section):
    """Whether x runs against the way the tube was made."""
    return section.frame.axes[0][0] < 0


@pytest.mark.parametrize(
    "section", [Section.box(60, 40, 3, 6), Section.round(60.3, 3), Section.box(60, 40, 3, 0)], ids=str
)
@pytest.mark.parametrize(
    "change", [lambda s: s, other_solids.split_at_quarters, other_solids.free_form, other_solids.mirrored]
)
def test_ends_go_once_round_and_openings_do_not(section, change):
    openings = (Hole(100, 12, both_walls=True), Slot(200, 50, 10, 0, across=True), Window(0, 50, 15, 90))
    tube = Tube(section, 300, start=None, end=Mitre(35, 0), openings=openings)
    found, contours = contours_of(change(tube_solid(tube)))
    assert sorted(abs(contour.turns) for contour in contours) == [0, 0, 0, 1, 1]
    for contour in contours:
        gap = contour.s[-1] - contour.s[0] - contour.turns * found.outer.girth
        assert gap == pytest.approx(0.0, abs=1e-3)
        assert contour.x[-1] == pytest.approx(contour.x[0], abs=1e-3)


def test_places_along_and_round_the_tube_are_those_of_the_openings():
    tube = Tube(Section.box(60, 40, 3, 6), 300, openings=(Hole(80, 10, 0, 5.0), Hole(120, 8, 90), Hole(220, 6, 180)))
    section, contours = contours_of(tube_solid(tube))
    assert not is_turned_round(section)
    holes = sorted((c for c in contours if not c.turns), key=lambda c: c.middle[0])
    girth = Section.box(60, 40, 3, 6).girth
    # Source: by hand: s = 0 in the middle of a 60 mm side; a quarter of the way round is the middle of a 40 mm side
    assert [hole.middle[0] for hole in holes] == pytest.approx([80, 120, 220])
    middles = [hole.middle[1] % girth for hole in holes]
    first = min(middles[0], girth - middles[0])
    assert first == pytest.approx(5.0) or abs(first - girth / 2) == pytest.approx(5.0)
    assert middles[1] % (girth / 2) == pytest.approx(girth / 4)
    assert (middles[2] - middles[0]) % (girth / 2) in (pytest.approx(5.0), pytest.approx(girth / 2 - 5.0))


def test_a_mitre_on_round_tube_unrolls_to_the_sine_curve():
    # Source: textbook development of a mitred pipe: x = R tan(angle) cos(s / R), a sine of the angle round the pipe
    radius, angle = 24.15, 30.0
    tube = Tube(Section.round(2 * radius, 3), 300, end=Mitre(angle, 0), placement=Placement((0, 0, 1), 20, (3, 4, 5)))
    section, contours = contours_of(tube_solid(tube))
    mitre = max((c for c in contours if c.turns), key=lambda c: float(np.ptp(c.x)))
    swing = radius * math.tan(math.radians(angle))
    assert float(np.ptp(mitre.x)) == pytest.approx(2 * swing, rel=2e-3)  # points every 5 degrees miss the very tips
    middle = 300 - swing if not is_turned_round(section) else swing
    design = np.stack([np.cos(mitre.s / radius), np.sin(mitre.s / radius)], axis=1)
    weights, *_ = np.linalg.lstsq(design, mitre.x - middle, rcond=None)
    assert float(np.hypot(*weights)) == pytest.approx(swing, abs=1e-8)
    assert np.abs(design @ weights - (mitre.x - middle)).max() < 1e-8


def test_a_saddle_unrolls_to_the_curve_of_two_cylinders():
    # Source: derivation: tubes of radii r and R crossing square on meet along x = sqrt(R² - r² cos²(s / r))
    r, big = 24.15, 30.15
    section, contours = contours_of(tube_solid(Tube(Section.round(2 * r, 3), 300, end=Cope(2 * big, along=90))))
    saddle = max((c for c in contours if c.turns), key=lambda c: float(np.ptp(c.x)))
    assert not is_turned_round(section)
    centre = 300 + math.sqrt(big**2 - r**2)
    squared = big**2 - (centre - saddle.x) ** 2
    shares = squared / r**2
    phase = np.arange(0, 360) * math.pi / 180
    misses = [float(np.abs(np.cos(saddle.s / r - p) ** 2 - shares).max()) for p in phase]
    assert min(misses) < 1e-6
    assert saddle.length == pytest.approx(float(np.hypot(np.diff(saddle.x), np.diff(saddle.s)).sum()), rel=1e-3)


def test_edges_without_a_next_one_are_noticed():
    measured = measure(tube_solid(Tube(Section.box(40, 40, 3, 6), 100)))
    section = find_section(measured, faces_along(measured))
    numbers = edges_at(measured, places(measured, section), Place.OUTER)
    assert len(chained(measured, numbers, section, section.outer)) == 2
    assert chained(measured, numbers[1:], section, section.outer) is None


def test_loops_that_touch_in_a_point_still_close():
    touching = (Window(80, 20, 10, 90), Window(100, 20, 10, 90, offset=10))
    _, contours = contours_of(tube_solid(Tube(Section.box(60, 60, 3, 6), 200, openings=touching)))
    assert sum(abs(contour.turns) for contour in contours) == 2
    assert sum(contour.length for contour in contours if not contour.turns) == pytest.approx(120)
