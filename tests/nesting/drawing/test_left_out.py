from collections import Counter

import pytest

from nesting.drawing.left_out import (
    KINDS,
    MOST_KINDS,
    changed_lines,
    damaged_entity,
    heights,
    hidden_entities,
    ignored_by_rule,
    ignored_entities,
    kind_of,
    missing_blocks,
    model_space_is_empty,
    paper_space,
    unusable_entity,
)


def told(findings):
    return [(finding.code, finding.severity.value, finding.message) for finding in findings]


def test_entities_have_plain_words_and_unknown_ones_their_type():
    assert (kind_of("MTEXT"), kind_of("MTEXT", 2), kind_of("HELIX", 2)) == ("text", "texts", "helices")
    assert (kind_of("XYZ"), kind_of("XYZ", 3)) == ("entity of type XYZ", "entities of type XYZ")
    assert len(kind_of("X" * 5000)) < 80
    assert all(one != many for one, many in KINDS.values())


def test_what_is_no_line_is_counted_by_kind_the_most_first():
    found = told(ignored_entities(Counter(TEXT=1, MTEXT=2, DIMENSION=4, ATTRIB=0, HATCH=1)))
    assert found == [
        ("ignored-entities", "note", "Left out, because it is not cut: 4 dimensions, 3 texts, 1 hatch."),
    ]
    assert ignored_entities(Counter(ATTRIB=0)) == ignored_entities(Counter()) == []


def test_what_may_have_been_meant_to_be_cut_is_worth_a_warning():
    ((_, severity, message),) = told(ignored_entities(Counter(MLINE=1)))
    assert severity == "warning"
    assert message.endswith("If any of it is to be cut, explode it into lines and arcs.")


def test_a_sentence_names_a_bounded_number_of_kinds():
    ((_, _, message),) = told(ignored_entities(Counter({f"K{k}": 1 for k in range(500)})))
    assert message.endswith(f"{500 - MOST_KINDS} other kinds.")
    assert len(message) < 500


def test_lines_that_a_rule_leaves_out_are_told_by_what_it_looks_at():
    rules = Counter({("layer", "TEXT"): 2, ("layer", "DIM"): 3, ("linetype", "HIDDEN"): 1, ("colour", "8"): 4})
    assert told(ignored_by_rule(rules)) == [
        (
            *("ignored-layer", "note"),
            '5 lines on the layers "DIM", "TEXT" were left out, because layers so named are not cut.',
        ),
        ("ignored-colour", "note", '4 lines of the colour "8" were left out, because what is drawn so is not cut.'),
        (
            *("ignored-linetype", "warning"),
            '1 line of the linetype "HIDDEN" was left out, because what is drawn so is not cut.',
        ),
    ]
    assert ignored_by_rule(Counter()) == []


def test_hidden_layers_are_a_warning_and_hidden_entities_a_note():
    found = told(hidden_entities(Counter({"OFF": 1, "": 3})))
    assert [(code, severity) for code, severity, _ in found] == [("hidden-layer", "warning"), ("invisible", "note")]
    assert found[0][2].startswith('1 entity on layers that are switched off or frozen ("OFF") was left out.')
    assert found[1][2] == "3 invisible entities left out."
    assert hidden_entities(Counter()) == []


def test_blocks_of_other_files_are_named_once():
    ((code, severity, message),) = told(missing_blocks(Counter({"frame": 3, "logo": 1})))
    assert (code, severity) == ("missing-block", "warning")
    assert message.startswith('The drawing shows the blocks "frame", "logo" of another file or without content')
    assert told(missing_blocks(Counter({"frame": 3})))[0][2].startswith('The drawing shows the block "frame" of')
    assert missing_blocks(Counter()) == []


def test_paper_space_and_changed_lines_are_notes_where_there_are_any():
    assert told(paper_space(1)) == [("paper-space", "note", "1 entity on drawing sheets (paper space) left out.")]
    assert told(changed_lines(1, 2)) == [
        ("zero-length", "note", "1 line without length was removed."),
        (
            *("curves-fitted", "note"),
            "2 curves (ellipses, splines) became lines and arcs within 0.01 mm of the drawing.",
        ),
    ]
    assert paper_space(0) == changed_lines(0, 0) == []


@pytest.mark.parametrize(
    ("lowest", "highest", "code"),
    [
        *((0.0, 0.0, None), (-0.01, 0.01, None), (3.0, 3.0, "raised"), (3.0, 3.009, "raised")),
        *((0.0, 3.0, "several-heights"), (-5.0, -4.9, "several-heights")),
        (float("inf"), float("-inf"), None),  # no line at all
    ],
)
def test_heights_are_told_where_they_are_not_all_nought(lowest, highest, code):
    assert [finding.code for finding in heights(lowest, highest)] == ([code] if code else [])


def test_what_cannot_be_used_is_refused_with_kind_layer_and_place():
    assert told([damaged_entity("ARC", "CUT")]) == [
        ("damaged-entity", "refusal", 'An arc on layer "CUT" is damaged. Draw it again and upload the file again.')
    ]
    for reason, code, words in (
        ("not-flat", "not-flat", "does not lie flat"),
        ("not-a-number", "bad-coordinate", "has a coordinate that is not a number"),
        ("too-far", "bad-coordinate", "reaches further than 1 km from the origin"),
    ):
        finding = unusable_entity(reason, (1.0, 2.0), "LINE", "0")
        assert (finding.code, finding.at, finding.blocks) == (code, (1.0, 2.0), True)
        assert finding.message.startswith(f'A line on layer "0" near 1.0, 2.0 {words}')
        assert "near" not in unusable_entity(reason, None, "LINE", "0").message


@pytest.mark.parametrize(
    ("not_lines", "by_rule", "paper", "words"),
    [
        ({}, {}, 0, "Check that the part's outline is in the file"),
        ({"3DSOLID": 1}, {}, 4, "It holds a solid body"),
        ({"TEXT": 1}, {}, 4, "on the drawing sheets (paper space) only"),
        ({"3DSOLID": 1}, {("layer", "TEXT"): 9}, 4, 'left out by layer, colour or linetype ("TEXT")'),
    ],
)
def test_an_empty_drawing_is_explained_as_far_as_it_can_be(not_lines, by_rule, paper, words):
    finding = model_space_is_empty(not_lines, Counter(by_rule), paper)
    assert (finding.code, finding.blocks) == ("nothing-to-cut", True)
    assert words in finding.message
