import pytest

from nesting.errors import BadValue
from nesting.model.section import Section
from nesting.tube.step_solids import load_solids
from nesting.tube.step_writer import write_solids, write_tubes
from nesting.tube.tube_solids import Tube, tube_solid
from tests import other_solids

TUBE = Tube(Section.box(40, 40, 3, 6), 300, "leg")


@pytest.mark.parametrize(
    "name", ["Open CASCADE STEP translator 8.0 1.1", "SOLID", "Solid 3", "Compound", "none", "Body1", "Part-2", "  "]
)
def test_names_that_say_nothing_give_way_to_the_files(name, tmp_path):
    path = tmp_path / "x.step"
    write_solids(path, [(name, tube_solid(TUBE))])
    assert [solid.name for solid in load_solids(path, "brace")] == ["brace"]


@pytest.mark.parametrize("name", ["leg", "Bodywork", "part 7 left", "Nonesuch", "поперечина", "a" * 100])
def test_names_that_say_something_stay(name, tmp_path):
    path = tmp_path / "x.step"
    write_solids(path, [(name, tube_solid(TUBE))])
    assert [solid.name for solid in load_solids(path, "brace")] == [name]


def test_uses_of_one_solid_have_one_number(tmp_path):
    path = tmp_path / "x.step"
    solid = tube_solid(TUBE)
    write_solids(path, [("leg", solid), ("leg", solid), ("rail", other_solids.block())], assembly="frame")
    solids = load_solids(path, "x")
    assert [solid.name for solid in solids] == ["leg-1", "leg-2", "rail"]
    assert solids[0].number == solids[1].number != solids[2].number


def test_loose_faces_are_joined_and_marked(tmp_path):
    path = tmp_path / "x.step"
    write_solids(path, [("leg", other_solids.tube_of_loose_faces())])
    assert [(solid.name, solid.was_sewn) for solid in load_solids(path, "x")] == [("leg", True)]
    write_tubes(path, [TUBE])
    assert [solid.was_sewn for solid in load_solids(path, "x")] == [False]


def test_loose_faces_that_leave_a_gap_are_no_solid(tmp_path):
    path = tmp_path / "x.step"
    write_solids(path, [("leg", other_solids.open_shell())])
    assert load_solids(path, "x") == []


def test_what_is_no_step_is_a_bad_value(tmp_path):
    path = tmp_path / "x.step"
    path.write_text("ISO-10303-21;\nHEADER;\nnonsense\n")
    with pytest.raises(BadValue, match="damaged"):
        load_solids(path, "x")
