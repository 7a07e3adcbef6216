import math
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from nesting.export.svg_paths import View, escaped, hatching, measure, number, path_data, picture, text
from nesting.geometry.contour import Contour, Path
from tests.strategies import paths, rings
from tests.svg_again import Drawn, runs_of


@pytest.mark.parametrize(
    ("value", "wanted"),
    [(12.0, "12"), (0.5, "0.5"), (-3.14159, "-3.142"), (-0.0001, "0"), (0.0, "0"), (1e6, "1000000"), (-100.0, "-100")],
)
def test_numbers_are_short(value, wanted):
    assert number(value) == wanted


@pytest.mark.parametrize(
    ("value", "wanted"),
    [
        (1250, "1 250 mm"),
        (2499.96, "2 500 mm"),
        (48.3, "48.3 mm"),
        (0.04, "0 mm"),
        (-0.01, "0 mm"),
        (1234567.8, "1 234 567.8 mm"),
    ],
)
def test_measures_set_thousands_apart_and_carry_their_unit(value, wanted):
    assert measure(value) == wanted.replace(" ", "\u202f")


@given(rings())
def test_a_ring_is_drawn_where_it_lies(ring):
    (run,) = runs_of(path_data([ring]))
    assert run[0] == run[-1]
    drawn, meant = Polygon(run), Polygon(ring.polygon(1e-3))
    assert drawn.hausdorff_distance(meant) < 0.1
    assert drawn.area == pytest.approx(ring.area, rel=1e-3)


@given(paths)
def test_an_open_run_is_drawn_where_it_lies(path):
    (run,) = runs_of(path_data([path]))
    assert run[0] == pytest.approx(path.vertices[0][:2], abs=6e-4)
    assert run[-1] == pytest.approx(path.vertices[-1][:2], abs=6e-4)
    if path.length > 0.1:
        assert LineString(run).hausdorff_distance(LineString(path.flattened(1e-3))) < 0.1


@pytest.mark.parametrize("bulge", [-2.0, -1.0, -0.3, 0.3, 1.0, 2.0])
def test_an_arc_bulges_to_its_own_side(bulge):
    (run,) = runs_of(path_data([Path(((0, 0, bulge), (10, 0, 0)))]))
    # Source: by hand, sagitta = bulge x half the chord; a positive bulge lies right of the way, below it here.
    assert min((y for _, y in run), key=lambda y: -abs(y)) == pytest.approx(-5 * bulge, rel=1e-3)


def test_an_arc_of_almost_a_full_turn_keeps_its_place():
    # Source: by hand, a gap of 0.01 degrees at 25 degrees in a circle of radius 10 round (3, 4).
    first, last = math.radians(25.005), math.radians(384.995)
    ends = [(3 + 10 * math.cos(angle), 4 + 10 * math.sin(angle)) for angle in (first, last)]
    (run,) = runs_of(path_data([Path(((*ends[0], math.tan((last - first) / 4)), (*ends[1], 0)))]))
    assert all(math.dist(place, (3, 4)) == pytest.approx(10, abs=5e-3) for place in run)


def test_a_closing_straight_line_is_left_to_z():
    assert path_data([Contour.rectangle(4, 3)]) == "M0 0L4 0L4 -3L0 -3Z"


def test_a_circle_is_four_arcs():
    assert path_data([Contour.circle(0, 0, 5)]) == "M5 0A5 5 0 0 0 0 -5A5 5 0 0 0 -5 0A5 5 0 0 0 0 5A5 5 0 0 0 5 0Z"


@given(st.text(st.characters(codec=None)))
def test_any_text_becomes_well_formed(words):
    kept = "".join(
        c if c in "\t\n\r" or 0x20 <= ord(c) < 0xD800 or 0xE000 <= ord(c) < 0xFFFE or ord(c) > 0xFFFF else "\ufffd"
        for c in words
    )
    element = ET.fromstring(f'<a b="{escaped(words)}">{escaped(words)}</a>')  # noqa: S314 - our own text
    assert (element.text or "") == kept.replace("\r\n", "\n").replace("\r", "\n")


def test_text_turned_by_90_degrees_reads_upwards():
    assert "rotate(-90)" in text(10, 20, 3, "up", turn=90.0)
    assert "translate(10 -20)" in text(10, 20, 3, "up", turn=90.0)


@given(st.floats(1, 500), st.floats(1, 100), st.floats(1, 20))
def test_hatching_stays_inside_its_rectangle(width, height, step):
    runs = runs_of(hatching(10, 20, 10 + width, 20 + height, step))
    for (x1, y1), (x2, y2) in runs:
        assert 9.99 <= x1 < x2 <= 10.01 + width
        assert 19.99 <= y1 < y2 <= 20.01 + height
        assert x2 - x1 == pytest.approx(y2 - y1, abs=2e-3)
    assert len(runs) >= (width + height) / step - 3


def test_a_picture_has_title_and_description_for_screen_readers():
    made = Drawn(picture("test-picture", View(0, 0, 10, 5), 'A <gate> & "post"', "Two 'pieces'", []))
    assert made.root.get("aria-label") == 'A <gate> & "post"'
    assert made.all("title")[0].text == 'A <gate> & "post"'
    assert made.all("desc")[0].text == "Two 'pieces'"
    assert made.box == [0, -5, 10, 5]
