import math

import pytest
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from scipy.integrate import quad

from nesting.errors import BadValue
from nesting.model.section import Section
from nesting.tube.tube_solids import Cope, Hole, Mitre, Placement, Slot, Tube, Window, tube_solid

BOX, ROUND = Section.box(60, 40, 3, 6), Section.round(48.3, 3)


def volume(tube):
    shape, properties = tube_solid(tube), GProp_GProps()
    assert BRepCheck_Analyzer(shape).IsValid()
    BRepGProp.VolumeProperties_s(shape, properties, 1e-9)
    return properties.Mass()


@pytest.mark.parametrize("section", [BOX, ROUND, Section.box(50, 50, 4, 6, 4), Section.box(30, 30, 2, 0)], ids=str)
def test_a_plain_length_is_a_prism(section):
    assert volume(Tube(section, 321.5)) == pytest.approx(section.metal_area * 321.5, rel=1e-12)


@pytest.mark.parametrize("angle", [-45.0, 90.0, math.nan])
def test_a_mitre_that_would_cut_nothing_or_everything_is_refused(angle):
    with pytest.raises(BadValue, match="angle must be 0 up to 90"):
        Mitre(angle)


@pytest.mark.parametrize("towards", [0, 90, 180, 270, 33])
def test_a_mitre_takes_off_half_of_what_it_leans_back(towards):
    # Source: a plane through a symmetrical section takes the same volume as a square cut at its middle
    angle, reach = 25.0, 24.15
    expected = ROUND.metal_area * (300 - reach * math.tan(math.radians(angle)))
    assert volume(Tube(ROUND, 300, start=Mitre(angle, towards))) == pytest.approx(expected, rel=1e-7)


def test_the_long_point_is_on_the_stated_side():
    top = Tube(BOX, 300, end=Mitre(45, 90), openings=(Window(297, 6, 30, towards=90),))
    bottom = Tube(BOX, 300, end=Mitre(45, 90), openings=(Window(297, 6, 30, towards=270),))
    plain = Tube(BOX, 300, end=Mitre(45, 90))
    assert volume(top) < volume(plain)
    assert volume(bottom) == pytest.approx(volume(plain))


def test_openings_take_away_their_area_times_the_wall():
    def lost(*openings):
        return (volume(Tube(BOX, 300)) - volume(Tube(BOX, 300, openings=openings))) / 3.0

    # Source: by hand
    assert lost(Hole(100, 10)) == pytest.approx(25 * math.pi)
    assert lost(Hole(100, 10, 0, 8, both_walls=True)) == pytest.approx(50 * math.pi)
    assert lost(Slot(100, 30, 10)) == pytest.approx(200 + 25 * math.pi)
    assert lost(Slot(100, 26, 10, 0, across=True)) == pytest.approx(160 + 25 * math.pi)
    assert lost(Window(100, 30, 10, 270)) == pytest.approx(300)
    assert lost(Window(0, 30, 10)) == pytest.approx(150)


def test_a_hole_through_round_tube_takes_away_the_integral_of_the_wall():
    # Source: derivation: over the disc of the hole, the depth of wall at y is sqrt(R² - y²) - sqrt(r² - y²)
    a, big, small = 6.0, 24.15, 21.15

    def slice_at(y):
        return 2 * math.sqrt(a**2 - y**2) * (math.sqrt(big**2 - y**2) - math.sqrt(small**2 - y**2))

    expected, _ = quad(slice_at, -a, a)
    lost = volume(Tube(ROUND, 200)) - volume(Tube(ROUND, 200, openings=(Hole(100, 2 * a),)))
    assert lost == pytest.approx(expected, rel=1e-5)


def test_a_cope_takes_away_the_mating_cylinder():
    # Source: derivation: at the angle t round the tube, x ends at C - sqrt(R² - (q cos t)²), q the radius there
    big = 40.0
    centre = 300 + math.sqrt(big**2 - 24.15**2)

    def ring_at(q):
        mean, _ = quad(lambda t: centre - math.sqrt(big**2 - (q * math.cos(t)) ** 2), 0, 2 * math.pi)
        return q * mean

    expected, _ = quad(ring_at, 21.15, 24.15)
    assert volume(Tube(ROUND, 300, end=Cope(2 * big))) == pytest.approx(expected, rel=1e-6)


def test_placing_changes_no_volume():
    tube = Tube(BOX, 300, end=Mitre(30), openings=(Hole(100, 10),))
    placed = Tube(BOX, 300, end=Mitre(30), openings=(Hole(100, 10),), placement=Placement((1, 2, 3), 40, (5, 6, 7)))
    assert volume(placed) == pytest.approx(volume(tube), rel=1e-9)


def test_openings_that_cut_the_tube_in_two_are_a_bad_value():
    with pytest.raises(BadValue, match="leave 2 pieces"):
        tube_solid(Tube(BOX, 300, openings=(Window(150, 10, 200, both_walls=True),)))
    with pytest.raises(BadValue, match="leave 0 pieces"):
        tube_solid(Tube(BOX, 300, openings=(Window(150, 400, 200, both_walls=True),)))
