"""What an engine that lays one sheet after another knows while it works: full sheets, the last one, and what is loose.

*Full* sheets are done unless one is bettered; all other pieces are *loose*. *Last* are layouts of loose pieces, of all
of them when the plan is complete. Pieces are *held* while a solver tries to lay them somewhere.
"""

from collections import Counter
from collections.abc import Container, Sequence
from dataclasses import dataclass, field, replace

from nesting.layout.score import Extents
from nesting.model.nest import Placement, SheetJob, SheetLayout
from nesting.units import Mm2


@dataclass(eq=False)
class FullSheet:
    """A layout whose sheets count as full. `bulk` is what its pieces have, `reach` what it has been seen that they
    might have on one sheet, `misses` how often more was tried in vain since it was last bettered. `is_filled` says that
    what it has left open has been offered to loose pieces.
    """

    layout: SheetLayout
    bulk: Mm2
    reach: Mm2
    misses: int = 0
    is_tried: bool = False
    is_filled: bool = False
    counts: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.counts = counts_of(self.layout)


def counts_of(layout: SheetLayout) -> Counter[str]:
    """How many of each one copy of a layout holds."""
    return Counter(p.part for p in layout.placements)


class SheetPlan:
    """Bookkeeping only: nothing is laid here."""

    def __init__(self, job: SheetJob, extents: Extents) -> None:
        self.job, self.extents = job, extents
        self.full: list[FullSheet] = []
        self.last: list[SheetLayout] = []
        self.loose = Counter({demand.part.name: demand.count for demand in job.demands})
        self.held: Counter[str] = Counter()

    def free(self) -> Counter[str]:
        """Loose pieces that no solver has in hand."""
        return +Counter({name: count - self.held[name] for name, count in self.loose.items()})

    def at_hand(self, stock: str) -> int | None:
        """How many sheets of the kind are left beside those full; None for as many as needed."""
        kind = next(sheet for sheet in self.job.stock if sheet.name == stock)
        if kind.count is None:
            return None
        return kind.count - sum(each.layout.copies for each in self.full if each.layout.stock == stock)

    def hold(self, counts: Counter[str], copies: int = 1) -> None:
        for name, count in counts.items():
            self.held[name] += count * copies

    def release(self, counts: Counter[str], copies: int = 1) -> None:
        for name, count in counts.items():
            self.held[name] -= count * copies

    def take(self, sheet: FullSheet) -> None:
        """A new full sheet out of loose pieces."""
        self.full.append(sheet)
        self._loosen(sheet, -1)
        self._trim()

    def exchange(self, old: FullSheet, new: FullSheet) -> None:
        """A full sheet instead of another; both are cut as often."""
        self.full[self.full.index(old)] = new
        self._loosen(old, 1)
        self._loosen(new, -1)
        self._trim()

    def split(self, sheet: FullSheet) -> FullSheet:
        """Takes one copy off a sheet that is cut more often; it is a full sheet of its own from now on."""
        layout = sheet.layout
        one = replace(sheet, layout=replace(layout, copies=1))
        rest = replace(sheet, layout=replace(layout, copies=layout.copies - 1))
        self.full[self.full.index(sheet)] = rest
        self.full.append(one)
        return one

    def open_one(self, stock: Container[str]) -> None:
        """Makes the pieces of one sheet of the least full layout loose: it is the last one from now on. Only sheets of
        such stock are looked at; where there are none, nothing happens.
        """
        eligible = [each for each in self.full if each.layout.stock in stock]
        if not eligible:
            return
        sheet = min(eligible, key=lambda each: (each.layout.copies > 1, each.bulk))
        self.full.remove(sheet)
        if sheet.layout.copies > 1:
            rest = replace(sheet.layout, copies=sheet.layout.copies - 1)
            self.full.append(FullSheet(rest, sheet.bulk, sheet.reach, sheet.misses))
        one = replace(sheet.layout, copies=1)
        for name, count in counts_of(one).items():
            self.loose[name] += count
        self.last = [one]

    def _loosen(self, sheet: FullSheet, sign: int) -> None:
        for name, count in sheet.counts.items():
            self.loose[name] += sign * count * sheet.layout.copies

    def _trim(self) -> None:
        """Takes off the last sheets what is no longer loose, the pieces furthest to the right first."""
        left = Counter(self.loose)
        kept = []
        for layout in self.last:
            stay: list[Placement] = []
            for p in sorted(layout.placements, key=self._right):
                if left[p.part] > 0:
                    left[p.part] -= 1
                    stay.append(p)
            if stay:
                kept.append(replace(layout, placements=tuple(stay)))
        self.last = kept

    def _right(self, p: Placement) -> float:
        form = self.extents.form(p)
        return p.x + form.left + form.width

    def set_last(self, layouts: Sequence[SheetLayout]) -> None:
        self.last = list(layouts)
        self._trim()

    @property
    def is_complete(self) -> bool:
        """Whether all pieces are on some sheet."""
        return sum((counts_of(layout) for layout in self.last), Counter()) == +self.loose

    def layouts(self) -> list[SheetLayout]:
        return [*(each.layout for each in self.full), *self.last]
