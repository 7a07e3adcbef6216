import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from nesting.export.svg_reading import MOST_PINS, in_the_drawing, reading_svg
from nesting.geometry.contour import Contour, Path
from nesting.geometry.placing import placed
from nesting.model.findings import Finding, Severity
from nesting.model.part import SheetPart, TubePart
from nesting.model.reading import Reading
from nesting.model.section import Section
from tests.strategies import readings, sheet_parts
from tests.svg_again import Drawn, runs_of

PLATE = Contour.rectangle(200, 100)
OPEN = Path(((20, 20, 0), (80, 30, 0.5), (120, 20, 0)))


def refused(*findings):
    return Reading("refused", (), findings, (PLATE, OPEN), "mm")


def fault(at, message="The outline is open."):
    return Finding("open-contour", Severity.REFUSAL, message, at)


def pins(made):
    return made.all("g", "pin")


def heads(made):
    found = []
    for pin in pins(made):
        circle = [each for each in pin if each.tag.endswith("circle")][-1]
        found.append((float(circle.get("cx")), -float(circle.get("cy")), float(circle.get("r"))))
    return found


def test_a_finding_is_pinned_at_its_place_under_its_number():
    made = Drawn(reading_svg(refused(fault(None, "No unit."), fault((120, 20)))))
    (pin,) = pins(made)
    assert pin.get("data-finding") == "2"
    assert pin.get("class") == "pin refusal"
    (place,) = made.all("circle", "place")
    assert (place.get("cx"), place.get("cy")) == ("120", "-20")
    assert pin[0].text == "2. The outline is open."
    assert pin[-1].text == "2"


def test_every_line_of_the_sketch_is_drawn():
    made = Drawn(reading_svg(refused(fault((1, 1)))))
    runs = runs_of(made.all("path", "sketch")[0].get("d"))
    assert len(runs) == 2
    assert runs[0][0] == runs[0][-1]
    assert runs[1][0] == (20, 20)


def closed(contour):
    """The ring as a reader sketches it: an open run whose last vertex repeats the first."""
    return Path((*contour.vertices, (*contour.vertices[0][:2], 0.0)))


def test_parts_that_were_made_out_are_filled_where_they_stand_in_the_drawing():
    part = SheetPart("plate", PLATE, (Contour.circle(50, 50, 10),), (Path(((5, 5, 0), (15, 5, 0))),))
    moved = [placed(ring, 300, 400) for ring in (part.outer, *part.holes)]
    made = Drawn(reading_svg(Reading("sheet", (part,), (), tuple(closed(ring) for ring in moved), "mm")))
    (group,) = made.all("g", "piece")
    assert group.get("data-part") == "plate"
    outer, hole = runs_of(group[1].get("d"))
    assert Polygon(outer).bounds == (300, 400, 500, 500)
    assert Polygon(hole).centroid.coords[0] == pytest.approx((350, 450))
    assert runs_of(made.all("path", "marks")[0].get("d")) == [[(305, 405), (315, 405)]]


def test_equal_parts_take_equal_rings_in_turn():
    parts = tuple(SheetPart(f"plate-{k}", PLATE) for k in range(3))
    moved = [placed(PLATE, 250 * k, 0) for k in range(3)]
    places = in_the_drawing(parts, [closed(ring) for ring in moved])
    assert sorted(x for _, x, _ in places) == [0, 250, 500]


def test_a_part_that_is_not_in_the_sketch_is_left_out():
    assert in_the_drawing([SheetPart("other", Contour.circle(0, 0, 5))], [closed(PLATE), OPEN]) == []


@given(sheet_parts(), st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_any_part_is_found_again(part, x, y):
    sketch = [closed(placed(ring, x, y)) for ring in (*part.holes, part.outer)]
    ((_, dx, dy),) = in_the_drawing([part], sketch)
    assert (dx, dy) == pytest.approx((x, y), abs=1e-6)


@given(st.lists(st.tuples(st.floats(0, 200), st.floats(0, 100)), min_size=1, max_size=6))
@settings(max_examples=50)
def test_heads_of_pins_do_not_cover_each_other_and_stay_in_the_picture(places):
    made = Drawn(reading_svg(refused(*(fault(at) for at in places))))
    left, top, width, height = made.box
    for (x1, y1, r1), (x2, y2, r2) in itertools.combinations(heads(made), 2):
        assert math.hypot(x2 - x1, y2 - y1) > r1 + r2
    for x, y, r in heads(made):
        assert left <= x - r
        assert x + r <= left + width
        assert top <= -y - r
        assert -y + r <= top + height


def test_a_place_far_off_the_drawing_has_no_pin():
    made = Drawn(reading_svg(refused(fault((1e6, 1e6)), fault((10, 10)))))
    assert [pin.get("data-finding") for pin in pins(made)] == ["2"]
    assert "2 findings, 1 of them marked" in made.all("desc")[0].text


def test_there_are_never_more_pins_than_can_be_told_apart():
    made = Drawn(reading_svg(refused(*(fault((k % 200, k // 200)) for k in range(MOST_PINS + 50)))))
    assert len(pins(made)) == MOST_PINS


def test_a_tube_is_shown_from_side_and_end():
    tube = TubePart("post", Section.round(48.3, 3.2), 900.0)
    assert "tube-picture" in reading_svg(Reading("tube", (tube,)))


def test_a_file_with_nothing_to_draw_has_no_picture():
    assert reading_svg(Reading("refused", (), (fault(None),))) == ""


@given(readings())
@settings(max_examples=60)
def test_every_reading_makes_a_well_formed_picture_or_none(reading):
    picture = reading_svg(reading)
    if not picture:
        assert not reading.parts
        assert not reading.sketch
    else:
        assert Drawn(picture).box[2] > 0
