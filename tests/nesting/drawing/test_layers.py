"""Layer names as drawing offices write them (common practice, no source), and what is made of the lines on them."""

import pytest

from nesting.drawing.layers import LayerRules, LayerUse, words_of

CUT, MARK, IGNORE = LayerUse.CUT, LayerUse.MARK, LayerUse.IGNORE


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("HoleText_2", ["hole", "text", "2"]),
        ("SHEET_EDGE", ["sheet", "edge"]),
        ("CUT-OUTER 10mm", ["cut", "outer", "10", "mm"]),
        ("DXFText", ["dxf", "text"]),
        ("0", ["0"]),
        ("", []),
        ("Außen", ["außen"]),
        ("découpeÉbauche", ["découpe", "ébauche"]),
        ("HOLEs", ["hol", "es"]),
        ("__", []),
    ],
)
def test_a_name_is_taken_apart_into_words(name, words):
    assert words_of(name) == words


@pytest.mark.parametrize(
    ("layer", "use"),
    [
        *(("0", None), ("OUTER_CONTOURS", None), ("HOLES", None), ("SHEET", None), ("Steel 3 mm", None)),
        *(("CUT", CUT), ("Cutting lines", CUT), ("CUT-TEXT", CUT), ("laser_cut", CUT)),
        *(("MARK", MARK), ("engraving", MARK), ("SCRIBE_LINES", MARK), ("mark cut", MARK), ("Mark-Text", MARK)),
        *(("TEXT", IGNORE), ("dims", IGNORE), ("Center Line", IGNORE), ("CENTERLINE", IGNORE), ("Bend_Lines", IGNORE)),
        *(("SHEET_EDGE", IGNORE), ("Defpoints", IGNORE), ("NO_CUT", IGNORE), ("not cut", IGNORE), ("Border", IGNORE)),
        # Words within words mean nothing.
        *(("CONTEXT", None), ("LANDMARK7", None), ("remarkable", None), ("haircut", None), ("décut", None)),
    ],
)
def test_the_words_of_a_name_say_what_its_lines_are_for(layer, use):
    assert LayerRules().use_by_layer(layer) is use


@pytest.mark.parametrize(
    ("linetype", "use"),
    [
        *(("Continuous", CUT), ("ByLayer", CUT), ("", CUT)),
        *(("HIDDEN2", IGNORE), ("CENTER", IGNORE), ("DASHDOTX2", CUT), ("ISO dash", IGNORE), ("PHANTOM", IGNORE)),
    ],
)
def test_broken_lines_are_left_out_where_the_layer_says_nothing(linetype, use):
    found, reason = LayerRules().use_of("0", linetype, 7)
    assert (found, reason) == (use, "linetype" if use is IGNORE else "")
    assert LayerRules().use_of("CUT", linetype, 7) == (CUT, "layer")


def test_a_shop_names_its_own_layers_in_any_case():
    rules = LayerRules(layers=(("Engraving", CUT), ("a3", IGNORE)))
    assert rules.use_of("ENGRAVING", "HIDDEN", 1) == (CUT, "layer")
    assert rules.use_of("A3", "Continuous", 1) == (IGNORE, "layer")
    assert rules.use_of("other", "Continuous", 1) == (CUT, "")


def test_a_colour_goes_before_the_words_and_behind_a_whole_name():
    rules = LayerRules(layers=(("plan", CUT),), colours=((3, MARK), (9, IGNORE)))
    assert rules.use_of("CUT", "Continuous", 3) == (MARK, "colour")
    assert rules.use_of("0", "Continuous", 9) == (IGNORE, "colour")
    assert rules.use_of("Plan", "Continuous", 9) == (CUT, "layer")
    assert rules.use_of("TEXT", "Continuous", 1) == (IGNORE, "layer")


def test_a_shop_has_its_own_words():
    rules = LayerRules(cut_words=frozenset({"laser"}), ignored_words=frozenset({"cut"}))
    assert rules.use_by_layer("laser") is CUT
    assert rules.use_by_layer("cut") is IGNORE
    assert rules.use_by_layer("text") is None
