import pytest

from nesting.tube.step_text import step_text, why_no_solids

MM = b"#1 = ( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) );"
INCH = (
    b"#1 = ( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT($,.METRE.) );"
    b"#2 = LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(2.54E-02),#1);"
    b"#3=(CONVERSION_BASED_UNIT('INCH',#2)\n LENGTH_UNIT()\n NAMED_UNIT(#4));"
)
DEGREE = b"#7 = ( CONVERSION_BASED_UNIT('DEGREE',#6) NAMED_UNIT(#5) PLANE_ANGLE_UNIT() );"


@pytest.mark.parametrize(
    ("content", "units"),
    [
        (MM, ("mm",)),
        (MM.replace(b".MILLI.", b"$"), ("m",)),
        (MM.replace(b".MILLI.", b".CENTI."), ("cm",)),
        (MM.replace(b".MILLI.", b".MEGA."), ("megametre",)),
        (INCH, ("inch",)),
        (INCH.replace(b"'INCH'", b"'foot'"), ("ft",)),
        (INCH.replace(b"'INCH'", b"''"), ("unnamed",)),
        (b"#1 = ( NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) LENGTH_UNIT() );", ("mm",)),
        (MM + DEGREE, ("mm",)),
        (DEGREE, ()),
        (MM.replace(b"LENGTH_UNIT() ", b""), ()),
        (b"#1 = ( SOLID_ANGLE_UNIT() SI_UNIT($,.STERADIAN.) );", ()),
        (MM + MM.replace(b".MILLI.", b"$"), ("mm", "m")),
    ],
)
def test_the_unit_of_length_is_read_from_the_text(content, units):
    # Source: ISO 10303-41, length units: SI prefix and metre, or a named unit converted from it
    assert step_text(content).units == units


def test_solids_faces_surfaces_and_meshes_are_counted():
    text = step_text(
        b"#1 = MANIFOLD_SOLID_BREP('a',#2);\n#3=MANIFOLD_SOLID_BREP('',#4);#5 = BREP_WITH_VOIDS('',#6,(#7));"
        b"#8 = ADVANCED_FACE('',(#9),#10,.T.);#11 = PRODUCT('MANIFOLD_SOLID_BREP(','','',());"
    )
    assert (text.solid_count, text.face_count, text.has_surfaces, text.has_mesh) == (3, 1, False, False)
    assert step_text(b"#1 = SHELL_BASED_SURFACE_MODEL('',(#2));").has_surfaces
    assert step_text(b"#1 = TRIANGULATED_FACE_SET('',#2);").has_mesh


@pytest.mark.parametrize(
    ("content", "readable", "words"),
    [
        (b"", 0, "holds no solid"),
        (b"#1 = SHELL_BASED_SURFACE_MODEL('',(#2));", 0, "holds surfaces or lines, but no closed solid"),
        (b"#1 = TESSELLATED_SOLID('',#2);", 0, "holds a mesh"),
        (b"#1 = MANIFOLD_SOLID_BREP('a',#2);", 0, "states 1 solids, but only 0"),
        (b"#1 = MANIFOLD_SOLID_BREP('a',#2);" * 3, 2, "states 3 solids, but only 2"),
    ],
)
def test_missing_solids_are_told(content, readable, words):
    assert words in why_no_solids(step_text(content), "gate.step", readable).message


def test_nothing_is_missing_where_all_solids_came_or_loose_faces_made_more():
    assert why_no_solids(step_text(b"#1 = MANIFOLD_SOLID_BREP('a',#2);"), "gate.step", 1) is None
    assert why_no_solids(step_text(b""), "gate.step", 1) is None


def test_a_file_made_to_slow_the_search_down_is_still_searched_quickly():
    step_text(b"#1=(CONVERSION_BASED_UNIT('" * 40_000)
    step_text(b"#1=(LENGTH_UNIT()SI_UNIT(" * 40_000)
