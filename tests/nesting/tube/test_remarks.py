import pytest

from nesting.model.findings import Severity
from nesting.model.section import Section
from nesting.tube.measuring import measure
from nesting.tube.recognise import recognise
from nesting.tube.tube_solids import Hole, Mitre, Tube, Window, tube_solid
from tests import other_solids


def findings(solid):
    part, found = recognise(measure(solid), "leg")
    assert part is not None
    return {finding.code: finding for finding in found}


@pytest.mark.parametrize("section", [Section.box(40, 40, 3, 6), Section.box(80, 80, 8, 20), Section.round(48.3, 3)])
def test_a_usual_tube_needs_no_remark(section):
    assert findings(tube_solid(Tube(section, 500))) == {}


@pytest.mark.parametrize(
    ("section", "code"),
    [
        # Source: EN 10219-2:2006, corner profile: 1.6 T to 2.4 T, 2.0 T to 3.0 T above 6 mm, 2.4 T to 3.6 T above 10 mm
        (Section.box(60, 60, 3, 4.8), None),
        (Section.box(60, 60, 3, 9), None),
        (Section.box(60, 60, 3, 4.5), "corner-unusual"),
        (Section.box(60, 60, 3, 10), "corner-unusual"),
        (Section.box(150, 150, 12, 40), None),
        (Section.box(150, 150, 12, 45), "corner-unusual"),
        (Section.box(60, 60, 3, 0), "corner-sharp"),
    ],
)
def test_unusual_corners_are_noted(section, code):
    found = findings(tube_solid(Tube(section, 300)))
    assert list(found) == ([] if code is None else [code])
    assert all(finding.severity is Severity.NOTE for finding in found.values())


def test_thick_walls_and_short_stubs_are_warned_of():
    found = findings(tube_solid(Tube(Section.round(30, 7), 12)))
    assert set(found) == {"wall-thick", "stub-short"}
    assert all(finding.severity is Severity.WARNING for finding in found.values())
    assert "only 12.0 mm long" in found["stub-short"].message


def test_cuts_that_are_not_square_to_the_surface_are_noted_with_their_lean():
    found = findings(tube_solid(Tube(Section.box(40, 40, 3, 6), 300, start=Mitre(45))))
    assert "its ends in leg lean by up to 45°" in found["cut-leans"].message
    # Source: by hand, a plane at 45 degrees goes as far along the tube as it goes through the wall of 3 mm.
    assert "follows the outer contour, so the inner edge will differ from the model, by up to 3.0 mm." in (
        found["cut-leans"].message
    )
    assert findings(tube_solid(Tube(Section.box(40, 40, 3, 6), 300, openings=(Hole(100, 8),)))) == {}


def test_a_chamfered_end_keeps_the_whole_length_and_is_told():
    part, _ = recognise(measure(other_solids.end_chamfered_tube()), "leg")
    assert (part.length, part.square_ends) == (200.0, True)
    assert "1.00 mm back" in findings(other_solids.end_chamfered_tube())["end-chamfered"].message


def test_a_pocket_is_warned_of_at_its_place():
    pocket = findings(other_solids.tube_with_pocket())["pocket"]
    assert (pocket.severity, pocket.at) == (Severity.WARNING, (pytest.approx(115.0), 0.0))


@pytest.mark.parametrize(
    ("section", "length"),
    [(Section.box(3, 3, 0.2, 0.4), 60), (Section.round(700, 8), 2000), (Section.round(60, 3), 30_000)],
)
def test_sizes_that_no_tube_has_make_one_ask_for_the_unit(section, length):
    assert "unit" in findings(tube_solid(Tube(section, length)))["size-unusual"].message


def test_a_slit_is_warned_of_with_its_width_and_place():
    found = findings(other_solids.slit_tube())
    assert "leg is slit from end to end, 4.00 mm wide" in found["slit"].message


def test_a_notched_end_is_told_with_what_a_saw_makes_of_it():
    tube = Tube(Section.box(40, 40, 3, 6), 300, start=Mitre(45, 90), openings=(Window(0, 100, 12, 270),))
    words = findings(tube_solid(tube))["end-notched"].message
    assert words.startswith("leg has an end that is mitre 45°, long point at the ")
    assert words.endswith(", with a notch. A saw makes the plane only; the notch is a second cut.")
