"""Says which parts of one file are one part several times, and which are mirror images that must be kept apart."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.model.findings import Finding, Severity
from nesting.model.part import TubePart
from nesting.tube.solid import Solid
from nesting.tube.telling import listed
from nesting.tube.tube_shape import tube_shape
from nesting.tube.twins import SAME, Cuts, are_mirrored, are_one


@dataclass(frozen=True, eq=False)
class Use:
    """One use of a solid in a file: its part, the number that all uses of this solid share, and the solid."""

    part: TubePart
    number: int
    solid: Solid


def groups(uses: Sequence[Use]) -> tuple[list[list[Use]], list[tuple[int, int]]]:
    """The uses that are one part together, in the order of the file, and the pairs of groups that mirror each other."""
    found: list[list[Use]] = []
    cuts: dict[int, Cuts] = {}

    def cuts_of(use: Use) -> Cuts:
        if use.number not in cuts:
            cuts[use.number] = Cuts(tube_shape(use.solid))
        return cuts[use.number]

    for use in uses:
        for group in found:
            same_solid = any(use.number == known.number for known in group)
            if same_solid or (_may_be_one(use.part, group[0].part) and are_one(cuts_of(use), cuts_of(group[0]))):
                group.append(use)
                break
        else:
            found.append([use])
    mirrored = [
        (i, k)
        for k, group in enumerate(found)
        for i, other in enumerate(found[:k])
        if _may_be_one(group[0].part, other[0].part) and are_mirrored(cuts_of(group[0]), cuts_of(other[0]))
    ]
    return found, mirrored


def parts_of(found: Sequence[Sequence[Use]]) -> tuple[TubePart, ...]:
    """One part for each group. Where its solids are numbered under one name that no other has, that is its name."""
    parts: list[TubePart] = []
    for group in found:
        part = group[0].part
        stems = {re.sub(r"-\d+$", "", use.part.name) for use in group}
        others = {re.sub(r"-\d+$", "", use.part.name) for other in found if other is not group for use in other}
        if len(group) > 1 and len(stems) == 1 and not stems & others:
            part = replace(part, name=stems.pop())
        parts.append(part)
    return tuple(parts)


def alike_findings(found: Sequence[Sequence[Use]], mirrored: Sequence[tuple[int, int]]) -> list[Finding]:
    """A note on each part that is there several times, and a warning on each pair of mirror images; see `groups`."""
    notes = [
        Finding(
            "parts-alike",
            Severity.NOTE,
            f"{listed([use.part.name for use in group])} are one part, {len(group)} times.",
        )
        for group in found
        if len(group) > 1
    ]
    return notes + [
        Finding(
            "parts-mirrored",
            Severity.WARNING,
            f"{found[i][0].part.name} and {found[k][0].part.name} are mirror images of each other and look alike. "
            "Mark the pieces so that they are not mixed up.",
        )
        for i, k in mirrored
    ]


def _may_be_one(part: TubePart, other: TubePart) -> bool:
    """Quick to see: what differs in these is another part."""
    return (
        part.section.shape is other.section.shape
        and part.hole_count == other.hole_count
        and abs(part.length - other.length) <= SAME
        and abs(part.section.height - other.section.height) <= SAME
    )
