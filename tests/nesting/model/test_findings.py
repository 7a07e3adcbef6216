import pytest

from nesting.model.findings import Finding, Severity, any_blocks


@pytest.mark.parametrize(
    ("severity", "blocks"),
    [(Severity.NOTE, False), (Severity.WARNING, False), (Severity.QUESTION, True), (Severity.REFUSAL, True)],
)
def test_questions_and_refusals_keep_a_thing_from_being_used(severity, blocks):
    found = Finding("open-contour", severity, "The outline is open.")
    assert found.blocks is blocks
    assert any_blocks([Finding("x", Severity.NOTE, "A note."), found]) is blocks


def test_nothing_found_blocks_nothing():
    assert not any_blocks([])
