from functools import cache

from nesting.model.findings import Severity
from nesting.model.section import Section
from nesting.tube.alike import Use, alike_findings, groups, parts_of
from nesting.tube.measuring import measure
from nesting.tube.recognise import recognise
from nesting.tube.tube_solids import Hole, Mitre, Tube, tube_solid
from tests import other_solids

SQUARE = Section.box(40, 40, 3, 6)
HANDED = Tube(SQUARE, 300, start=Mitre(30, 90), end=Mitre(30, 0))


@cache
def solids():
    """A handed leg, the same lying otherwise, its mirror image, and a plain rail."""
    leg = tube_solid(HANDED)
    made = (leg, other_solids.turned(leg, (1, 2, 3), 77, (4, 5, 6)), other_solids.mirrored(leg))
    return [measure(solid) for solid in (*made, tube_solid(Tube(SQUARE, 500, openings=(Hole(100, 9),))))]


def use(number, name):
    solid = solids()[number]
    return Use(recognise(solid, name)[0], number, solid)


def test_equal_solids_are_grouped_and_mirror_images_kept_apart():
    uses = [use(0, "a"), use(1, "b"), use(3, "rail-1"), use(2, "c"), use(3, "rail-2"), use(0, "d")]
    found, mirrored = groups(uses)
    assert [[each.part.name for each in group] for group in found] == [["a", "b", "d"], ["rail-1", "rail-2"], ["c"]]
    assert mirrored == [(0, 2)]


def test_what_is_alike_is_said():
    uses = [use(0, "a"), use(1, "b"), use(2, "c"), *(use(3, f"rail-{k}") for k in range(9))]
    findings = alike_findings(*groups(uses))
    assert [(f.code, f.severity) for f in findings] == [
        ("parts-alike", Severity.NOTE), ("parts-alike", Severity.NOTE), ("parts-mirrored", Severity.WARNING)
    ]  # fmt: skip
    assert findings[0].message == "a and b are one part, 2 times."
    assert findings[1].message == "rail-0, rail-1, rail-2, rail-3, rail-4, rail-5 and 3 more are one part, 9 times."
    assert findings[2].message.startswith("a and c are mirror images")


def test_one_part_is_alike_to_nothing():
    assert alike_findings(*groups([use(0, "a")])) == []
    assert alike_findings(*groups([use(0, "a"), use(3, "rail")])) == []


def test_a_part_that_is_there_several_times_is_called_after_all_of_them():
    def names(*uses):
        return [part.name for part in parts_of(groups(uses)[0])]

    assert names(use(0, "leg-1"), use(3, "rail"), use(1, "leg-2")) == ["leg", "rail"]
    assert names(use(0, "leg-1"), use(3, "leg-3"), use(1, "leg-2")) == ["leg-1", "leg-3"]
    assert names(use(0, "leg-1"), use(1, "stile")) == ["leg-1"]
    assert names(use(0, "leg-1")) == ["leg-1"]
