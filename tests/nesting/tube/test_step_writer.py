import re

import pytest

from nesting.errors import BadValue
from nesting.model.section import Section
from nesting.tube.step_writer import write_solids, write_tubes
from nesting.tube.tube_solids import Tube
from tests import other_solids

TUBE = Tube(Section.box(40, 40, 3, 6), 300, "leg")


@pytest.mark.parametrize(
    ("schema", "words"),
    # Source: ISO 10303-203, -214 and -242: names of the schemas
    [("AP203", "CONFIG_CONTROL_DESIGN"), ("AP214", "AUTOMOTIVE_DESIGN"), ("AP242", "AP242_MANAGED_MODEL_BASED_3D")],
)
def test_the_file_names_its_schema_and_product(schema, words, tmp_path):
    path = tmp_path / "x.step"
    write_tubes(path, [TUBE], schema=schema)
    text = path.read_text()
    assert text.startswith("ISO-10303-21;")
    assert words in text
    assert re.search(r"PRODUCT\('leg','leg'", text)


def test_equal_parts_make_equal_files(tmp_path):
    write_tubes(tmp_path / "a.step", [TUBE])
    write_tubes(tmp_path / "b.step", [TUBE])
    assert (tmp_path / "a.step").read_bytes() == (tmp_path / "b.step").read_bytes()


def test_lengths_are_written_in_the_unit(tmp_path):
    for unit, length in (("mm", "300."), ("m", "0.3"), ("inch", "11.811023622047")):
        write_tubes(tmp_path / "x.step", [TUBE], unit)
        assert f"({length}," in (tmp_path / "x.step").read_text()


def test_the_surfaces_are_exact(tmp_path):
    write_tubes(tmp_path / "x.step", [TUBE])
    text = (tmp_path / "x.step").read_text()
    assert text.count("CYLINDRICAL_SURFACE(") == 8
    assert text.count("= PLANE(") == 10
    assert "B_SPLINE_SURFACE" not in text


def test_a_folder_that_is_not_there_is_a_bad_value(tmp_path):
    with pytest.raises(BadValue, match=r"x\.step: Open CASCADE could not write"):
        write_solids(tmp_path / "none" / "x.step", [("block", other_solids.block())])


def test_nothing_is_printed(tmp_path, capfd):
    write_tubes(tmp_path / "x.step", [TUBE])
    assert capfd.readouterr() == ("", "")
