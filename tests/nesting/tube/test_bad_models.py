"""Models that no tube can be: each ends in a sentence that says what is wrong with it, within the reader's limits."""

import pytest

from nesting.errors import BadValue
from nesting.model.findings import Severity
from nesting.model.section import Section
from nesting.tube.step_reader import read_step
from nesting.tube.step_writer import write_solids, write_tubes
from nesting.tube.tube_solids import Hole, Tube, tube_solid
from tests import other_solids

SQUARE = Section.box(40, 40, 3, 6)


def refusal(path):
    """Code and sentence of the only refusal."""
    reading = read_step(path, path.name)
    assert (reading.kind, reading.parts) == ("refused", ())
    (finding,) = (each for each in reading.findings if each.severity is Severity.REFUSAL)
    assert finding.message.endswith(".")
    return finding.code, finding.message


def refusal_of(tmp_path, solid):
    path = tmp_path / "given.step"
    write_solids(path, [("piece", solid)])
    return refusal(path)


def test_a_solid_that_crosses_itself_is_refused(tmp_path):
    code, words = refusal_of(tmp_path, other_solids.prism([(0, 0), (40, 40), (40, 0), (0, 40)], 500))
    assert (code, words) == (
        "solid-open", "piece is not a closed solid: faces are missing. Close the model and export it again."
    )  # fmt: skip


@pytest.mark.parametrize("length", [1e-5, 0.01])
def test_a_tube_without_length_is_refused(length, tmp_path):
    code, words = refusal_of(tmp_path, tube_solid(Tube(SQUARE, length)))
    assert code == "no-length"
    assert words == ("piece is less than 0.05 mm thick or long, which cannot be cut. Check its length and unit.")


@pytest.mark.parametrize("wall", [20.0, 25.0])
def test_a_wall_of_half_the_tube_or_more_is_no_section(wall):
    with pytest.raises(BadValue, match="wall"):
        Section.box(40, 40, wall, 0)
    with pytest.raises(BadValue, match="wall"):
        Section.round(40, wall)


def test_points_moved_past_each_other_are_refused(tmp_path):
    """The inner wall of a tube, pushed out through the outer one."""
    path = tmp_path / "given.step"
    write_tubes(path, [Tube(SQUARE, 300, openings=(Hole(100, 12),))])
    path.write_bytes(path.read_bytes().replace(b",17.", b",23.").replace(b",-17.", b",-23."))
    assert refusal(path)[1]


@pytest.mark.slow
def test_a_solid_of_two_thousand_faces_is_told_what_it_is(tmp_path):
    code, words = refusal_of(tmp_path, other_solids.prism(other_solids.regular(1998, 900.0), 1000))
    assert code in ("round-of-flats", "too-slow")
    assert code == "too-slow" or "drawn with hundreds of flat sides" in words


@pytest.mark.slow
def test_a_file_of_tens_of_megabytes_is_read_within_its_limits(tmp_path):
    path = tmp_path / "large.step"
    write_tubes(path, [Tube(SQUARE, 300, openings=(Hole(100, 12),))])
    stray = b"".join(b"#%d=CARTESIAN_POINT('',(%d.,0.,0.));\n" % (1_000_000 + i, i) for i in range(1_000_000))
    path.write_bytes(path.read_bytes().replace(b"ENDSEC;\nEND-ISO", stray + b"ENDSEC;\nEND-ISO"))
    assert path.stat().st_size > 40 * 2**20
    reading = read_step(path, path.name)
    assert (reading.kind, reading.parts[0].hole_count) == ("tube", 1)
