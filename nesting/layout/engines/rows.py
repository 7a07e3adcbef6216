"""Plain rows: parts as upright rectangles in strips across the sheet. Always available, and there in a moment.

Parts are sorted by width. The widest that still fits opens a strip as wide as itself, from the left; the strip is
filled upwards with rows of whatever fits, several side by side where they are narrow enough. Three ways to stand the
parts are tried. On a sheet that is not a rectangle only its largest inside rectangle is used.
"""

import math
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from nesting.geometry.contour import Bounds
from nesting.layout.fits import Form
from nesting.layout.free_rectangle import usable_rectangle
from nesting.layout.score import due_ranks
from nesting.model.nest import Placement, SheetJob, SheetLayout
from nesting.model.stock import Sheet
from nesting.units import Mm

HAIR: Mm = 1e-7
"""Forgiven in a comparison of lengths: float noise at 1 km, and far below what the checker sees."""

type Stand = Callable[[Form, Mm], float]
"""How badly a form stands in a sheet of that height; the least is taken for the part that opens a strip."""

STANDS: tuple[Stand, ...] = (
    lambda form, height: form.width,
    lambda form, height: form.height,
    lambda form, height: -form.height * math.floor((height + HAIR) / form.height) / height,
)
"""Narrow, low, or so that a column of them fills the height best."""


@dataclass(frozen=True)
class _Kind:
    """One part with its forms that fit a room; `lead` is the one that opens a strip."""

    name: str
    forms: Sequence[Form]
    lead: Form
    narrowest: Mm
    lowest: Mm
    """A hair less than the least of its forms: a quick no for most kinds, which matters where there are hundreds."""


class _Strips:
    """Fills one rectangle with what is left. Lengths are measured from its lower left corner."""

    def __init__(self, room: Bounds, gap: Mm, kinds: Sequence[_Kind], left: Mapping[str, int]) -> None:
        self.room, self.gap = room, gap
        self.left = dict(left)
        self.kinds = [kind for kind in kinds if self.left[kind.name]]
        self.narrowest = min((kind.narrowest for kind in self.kinds), default=math.inf)
        self.lowest = min((kind.lowest for kind in self.kinds), default=math.inf)
        self.placements: list[Placement] = []

    def fill(self) -> list[Placement]:
        x = 0.0
        while True:
            self.kinds = [kind for kind in self.kinds if self.left[kind.name]]
            opener = next((kind for kind in self.kinds if kind.lead.width <= self.room.width - x + HAIR), None)
            if opener is None:
                return self.placements
            width = opener.lead.width
            y = self._row(opener, opener.lead, x, 0.0, width)
            for kind in self.kinds:
                if self.lowest > self.room.height - y:
                    break
                while kind.narrowest <= width and kind.lowest <= self.room.height - y and self.left[kind.name]:
                    form = self._densest(kind.forms, width, self.room.height - y)
                    if form is None:
                        break
                    y = self._row(kind, form, x, y, width)
            x += width + self.gap

    def _densest(self, forms: Sequence[Form], width: Mm, height: Mm) -> Form | None:
        """The form that fits and of which most stand in a strip for the length it takes."""
        fitting = [form for form in forms if form.width <= width + HAIR and form.height <= height + HAIR]
        return max(fitting, key=lambda form: self._abreast(form, width) / (form.height + self.gap), default=None)

    def _abreast(self, form: Form, width: Mm) -> int:
        return math.floor((width + self.gap + HAIR) / (form.width + self.gap))

    def _row(self, kind: _Kind, form: Form, x: Mm, y: Mm, width: Mm) -> Mm:
        """Lays a row of one kind and fills its end with smaller ones; returns where the next row starts."""
        for _ in range(min(self.left[kind.name], self._abreast(form, width))):
            self._lay(kind, form, x, y)
            x, width = x + form.width + self.gap, width - form.width - self.gap
        for other in self.kinds:
            if self.narrowest > width:
                break
            while other.narrowest <= width and other.lowest <= form.height and self.left[other.name]:
                small = self._densest(other.forms, width, form.height)
                if small is None:
                    break
                deep = math.floor((form.height + self.gap + HAIR) / (small.height + self.gap))
                for k in range(min(self.left[other.name], deep)):
                    self._lay(other, small, x, y + k * (small.height + self.gap))
                x, width = x + small.width + self.gap, width - small.width - self.gap
        return y + form.height + self.gap

    def _lay(self, kind: _Kind, form: Form, x: Mm, y: Mm) -> None:
        self.left[kind.name] -= 1
        self.placements.append(
            Placement(
                kind.name,
                self.room.left + x - form.left,
                self.room.bottom + y - form.bottom,
                form.turn,
                form.mirrored,
            )
        )


def lay_rows(
    job: SheetJob,
    forms: Mapping[str, Sequence[Form]],
    stand: Stand,
    *,
    extra_gap: Mm = 0.0,
    is_over: Callable[[], bool],
) -> tuple[SheetLayout, ...]:
    """Layouts with as many of the job's parts as rows can lay, in the order in which they were made.

    `extra_gap` is kept beside the rules' gap and margin. When `is_over` says so, what has been made is returned. Where
    a sheet may hold few kinds only, those due first are taken, and of these the ones that need the most room.
    """
    rooms = {sheet.name: usable_rectangle(sheet.outline, job.rules.margin + extra_gap) for sheet in job.stock}
    left = {demand.part.name: demand.count for demand in job.demands}
    wanted = {name: forms[name] for name in left}
    kinds = {name: _kinds(room, wanted, stand) for name, room in rooms.items() if room is not None}
    at_hand = {sheet.name: sheet.count for sheet in job.stock}
    area = {demand.part.name: demand.part.outer.area for demand in job.demands}
    ranks = None if job.rules.most_kinds is None else due_ranks(job)
    layouts: list[SheetLayout] = []
    while any(left.values()) and not is_over():
        tries: list[tuple[tuple[bool, float, float], SheetLayout, Counter[str]]] = []
        for sheet in job.stock:
            room = rooms[sheet.name]
            if room is None or at_hand[sheet.name] == 0:
                continue
            offered = left if ranks is None else _few(left, kinds[sheet.name], ranks, area, job.rules.most_kinds or 1)
            placements = _Strips(room, job.rules.gap + extra_gap, kinds[sheet.name], offered).fill()
            used = Counter(p.part for p in placements)
            if used:
                tries.append((_merit(sheet, used, left, area), SheetLayout(sheet.name, tuple(placements)), used))
        if not tries:
            break
        _, layout, used = min(tries, key=lambda each: each[0])
        # The same sheet again as long as the parts last: rows would come out the same anyway.
        copies = min(left[name] // count for name, count in used.items())
        count = at_hand[layout.stock]
        if count is not None:
            copies = min(copies, count)
            at_hand[layout.stock] = count - copies
        for name, each in used.items():
            left[name] -= copies * each
        layouts.append(SheetLayout(layout.stock, layout.placements, copies))
    return tuple(layouts)


def _few(
    left: Mapping[str, int], kinds: Sequence[_Kind], ranks: Mapping[str, int], area: Mapping[str, float], most: int
) -> Mapping[str, int]:
    """What is left of so many kinds that fit a room, and nothing of others."""
    fitting = [kind.name for kind in kinds if left[kind.name]]
    fitting.sort(key=lambda name: (ranks.get(name, 0), -left[name] * area[name]))
    return dict.fromkeys(left, 0) | {name: left[name] for name in fitting[:most]}


def lay_rows_apart(
    job: SheetJob,
    groups: Sequence[Collection[str]],
    forms: Mapping[str, Sequence[Form]],
    stand: Stand,
    *,
    extra_gap: Mm = 0.0,
    is_over: Callable[[], bool],
) -> tuple[SheetLayout, ...]:
    """As `lay_rows`, but one group of parts (by name) after the other, each on sheets of its own."""
    at_hand = {sheet.name: sheet.count for sheet in job.stock}
    layouts: list[SheetLayout] = []
    for group in groups:
        stock = tuple(replace(sheet, count=at_hand[sheet.name]) for sheet in job.stock if at_hand[sheet.name] != 0)
        demands = tuple(demand for demand in job.demands if demand.part.name in group)
        one = replace(job, stock=stock, demands=demands)
        for layout in lay_rows(one, forms, stand, extra_gap=extra_gap, is_over=is_over):
            layouts.append(layout)
            there = at_hand[layout.stock]
            at_hand[layout.stock] = None if there is None else there - layout.copies
    return tuple(layouts)


def _merit(
    sheet: Sheet, used: Counter[str], left: Mapping[str, int], area: Mapping[str, float]
) -> tuple[bool, float, float]:
    """The least is best: a sheet that takes all that is left, the cheapest such; else the cheapest for its filling."""
    filled = math.fsum(area[name] * count for name, count in used.items())
    takes_all = sum(used.values()) == sum(left.values())
    return (not takes_all, sheet.price if takes_all else sheet.price / filled, -filled)


def _kinds(room: Bounds, forms: Mapping[str, Sequence[Form]], stand: Stand) -> list[_Kind]:
    """The kinds that fit the room, the widest first."""
    kinds = []
    for name, each in forms.items():
        fitting = [f for f in each if f.width <= room.width + HAIR and f.height <= room.height + HAIR]
        if fitting:
            lead = min(fitting, key=lambda form: stand(form, room.height))
            narrowest, lowest = min(f.width for f in fitting) - HAIR, min(f.height for f in fitting) - HAIR
            kinds.append(_Kind(name, fitting, lead, narrowest, lowest))
    return sorted(kinds, key=lambda kind: (-kind.lead.width, -kind.lead.height, kind.name))
