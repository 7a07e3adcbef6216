import pytest

from nesting.model.findings import Severity
from nesting.model.section import Section
from nesting.tube.measuring import measure
from nesting.tube.recognise import recognise
from nesting.tube.section_finder import faces_along, find_section
from nesting.tube.solid import Solid
from nesting.tube.tube_solids import Hole, Mitre, Tube, tube_solid
from tests import other_solids

TUBE = Tube(Section.box(60, 40, 3, 6), 300, end=Mitre(40), openings=(Hole(80, 11, both_walls=True),))


@pytest.mark.parametrize(
    "change",
    [
        lambda solid: solid.Reversed(),
        other_solids.mirrored,
        other_solids.split_at_quarters,
        other_solids.free_form,
        lambda solid: other_solids.turned(solid, (3, 2, 1), 123.0, (9e4, 8e4, -7e4)),
    ],
    ids=["inside out", "mirrored", "split", "free form", "far away"],
)
def test_the_same_part_is_found_however_the_solid_is_written(change):
    plain, _ = recognise(measure(tube_solid(TUBE)), "leg")
    other, _ = recognise(measure(change(tube_solid(TUBE))), "leg")
    assert other.section == plain.section
    assert other.length == pytest.approx(plain.length, abs=2e-6)
    assert (other.hole_count, other.square_ends) == (plain.hole_count, plain.square_ends) == (2, False)
    assert other.cut_length == pytest.approx(plain.cut_length, abs=1e-4)
    assert other.metal_volume == pytest.approx(plain.metal_volume, rel=1e-5)


def test_sizes_lose_the_noise_of_floats():
    measured = measure(
        other_solids.turned(tube_solid(Tube(Section.box(40, 40, 3, 6), 300)), (1, 2, 3), 50, (1e4, 0, 0))
    )
    found = find_section(measured, faces_along(measured))
    assert found.section == Section.box(40, 40, 3, 6)


def test_a_solid_with_faults_is_usable_with_a_warning():
    measured = measure(tube_solid(TUBE))
    part, found = recognise(Solid(measured.faces, measured.edges, measured.volume, is_sound=False), "leg")
    assert part is not None
    assert [f.severity for f in found if f.code == "solid-faulty"] == [Severity.WARNING]


def test_a_part_that_is_none_is_refused_by_its_name():
    part, found = recognise(measure(other_solids.block()), "foot")
    assert part is None
    assert found[0].message == "foot is a block of 60 x 50 x 80 mm, not a tube."
