"""Sections in stock that are nearly those that were drawn: offered on an order's line, and taken by a person alone."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q

from shopfloor.stock.models import StockItem, TubeSection
from shopfloor.stock.sections import difference_words, is_near, total_difference


@dataclass(frozen=True)
class NearSection:
    """A section in stock in place of the drawn one, and how the drawn one differs from it, in words."""

    section: TubeSection
    words: str

    @property
    def name(self) -> str:
        """With its standard, which tells cold formed from hot finished tube."""
        return f"{self.section} ({self.section.standard})" if self.section.standard else str(self.section)


def near_sections(drawn: Iterable[TubeSection]) -> dict[int, NearSection]:
    """For each drawn section, by id, the nearest other one of which there is stock; none for those in stock themselves.

    A section of which nothing lies in the rack is no help, however near.
    """
    wanted = {section.pk: section for section in drawn}
    in_rack = StockItem.objects.filter(Q(on_hand=None) | Q(on_hand__gt=0), section=OuterRef("pk"))
    stocked = list(
        TubeSection.objects.filter(Exists(in_rack), shape__in={section.shape for section in wanted.values()})
    )
    known = {section.pk for section in stocked}
    found = {}
    for pk, section in wanted.items():
        near = [other for other in stocked if is_near(section.noun, other)]
        if pk not in known and near:
            best = min(near, key=lambda other: (total_difference(section.noun, other), other.pk))
            found[pk] = NearSection(best, difference_words(section.noun, best))
    return found


def taken_instead(drawn: TubeSection, taken: TubeSection) -> NearSection:
    """The section that a line takes in place of the drawn one."""
    return NearSection(taken, difference_words(drawn.noun, taken))


def may_take(drawn: TubeSection, section: TubeSection) -> bool:
    """Whether pieces drawn with one section may be cut from the other: it is the same, or near."""
    return drawn.pk == section.pk or (drawn.shape == section.shape and is_near(drawn.noun, section))
