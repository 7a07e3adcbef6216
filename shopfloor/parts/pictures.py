"""The pictures of a part as pages show them: how it is seen, and by how many quarter turns it is rolled."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.http import QueryDict

from nesting import route
from nesting.model.part import TubePart
from nesting.records.parts import finding_from_record
from shopfloor.parts.models import Part

VIEW_WORDS = {"flat": "Flat", "sides": "Four sides", "unrolled": "Laid flat", "slanted": "At a slant"}
"""Ways to see a part, in the order in which they are offered."""


@dataclass(frozen=True)
class Shown:
    """A part with the one picture of it that is shown; `quarters` (0 to 3) are turns about its axis, at a slant."""

    part: Part
    names: tuple[str, ...]
    view: str
    quarters: int
    svg: str

    @property
    def views(self) -> list[tuple[str, str]]:
        """Each way to see it, with its words."""
        ways = {name.partition("-")[0] for name in self.names}
        return [(view, words) for view, words in VIEW_WORDS.items() if view in ways]

    @property
    def is_turnable(self) -> bool:
        return any(name.startswith("slanted") for name in self.names)

    @property
    def turn_deg(self) -> int:
        return 90 * self.quarters

    @property
    def back(self) -> int:
        return (self.quarters - 1) % 4

    @property
    def on(self) -> int:
        return (self.quarters + 1) % 4


def drawn_by_name(part: Part) -> Mapping[str, Callable[[], str]]:
    """The part's pictures by name, each drawn when called for.

    Findings stand on them where the part is the only one of its drawing: of several none says which it lies on.
    """
    findings = ()
    if part.drawing.parts.count() == 1:
        findings = tuple(finding_from_record(each) for each in part.drawing.findings)
    return route.part_pictures(part.noun, findings)


def shown(part: Part, asked: QueryDict, usually: str = "sides") -> Shown:
    """The picture that an address asks for by `view` and `turn`, else the usual one, else whichever there is."""
    drawn = drawn_by_name(part)
    names = tuple(drawn)
    turn = asked.get("turn", "0")
    quarters = int(turn) % 4 if turn in ("0", "1", "2", "3") else 0
    view = asked.get("view", usually)
    name = f"slanted-{90 * quarters}" if view == "slanted" else view
    if name not in drawn:
        name, view = names[0], names[0].partition("-")[0]
    return Shown(part, names, view, quarters, drawn[name]())


def cuts_in_words(part: Part) -> list[tuple[str, str]]:
    """The ends of a tube part and what is cut out of its walls: where, and what."""
    noun = part.noun
    if not isinstance(noun, TubePart):
        return []
    ends = [(name, str(end)) for name, end in zip(("Start", "End"), noun.ends or (), strict=False)]
    return [*ends, *(("Cut-out", str(cut)) for cut in noun.cut_outs)]
