"""The rectangle solver of the packing library seen through our nouns: whole lengths in, sheet layouts out.

Grown by the gap to the right and upwards, on sheets grown likewise, rectangles keep the gap. Lengths are whole
micrometres, rounded to the nearest: a quarter of what the checker forgives. On a sheet of odd outline the largest
rectangle in it is used. Only the engine of rectangles uses this, inside its child process.
"""

import importlib
import math
import random
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from nesting.geometry.contour import Bounds
from nesting.layout.engines.edge_to_edge import Rectangle, edge_to_edge
from nesting.layout.fits import Form, form_of
from nesting.layout.free_rectangle import usable_rectangle
from nesting.layout.rectangular import upright_turns
from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout
from nesting.model.part import SheetPart
from nesting.model.stock import Sheet
from nesting.units import Mm, Seconds

library: Any = importlib.import_module("packingsolver.rectangle")
"""Bindings without type stubs, so imported past the type checker."""

PER_MM = 1000
"""Units of the solver in a millimetre."""

FEW_PIECES = 40
"""So many pieces at most are laid by trying all ways; jigsaws of 25 took a second, of 40 more than a minute."""

LITTLE_WASTE = 0.02
"""And where so much of the sheet's length must be wasted at most."""

ENDLESS = 4
"""In how many times its length the emptiest sheet's pieces are laid: the solver needs room for worse ways."""


@dataclass(frozen=True)
class _Kind:
    """A part with its form as the solver first sees it, and the form by a quarter turn where that is allowed."""

    name: str
    first: Form
    turned: Form | None


class Rectangles:
    """One job in whole units. The sheets are those that any rectangle is left of."""

    def __init__(self, job: SheetJob, extra_gap: Mm) -> None:
        self.job, self.gap = job, job.rules.gap + extra_gap
        self.sheets: list[tuple[Sheet, Bounds]] = []
        for sheet in job.stock:
            usable = usable_rectangle(sheet.outline, job.rules.margin + extra_gap)
            if usable is not None:
                self.sheets.append((sheet, usable))
        self._known = {sheet.name: (sheet, usable) for sheet, usable in self.sheets}
        self.counts = {demand.part.name: demand.count for demand in job.demands}
        self.kinds = [self._kind(demand) for demand in job.demands]
        lengths = [self._size(form) for kind in self.kinds for form in (kind.first, kind.turned) if form is not None]
        rooms = [self.room(usable) for _, usable in self.sheets]
        # A common divisor makes the solver's numbers small, which it likes.
        self.unit = math.gcd(*(length for size in (*lengths, *rooms) for length in size))

    def _kind(self, demand: Demand[SheetPart]) -> _Kind:
        forms: dict[bool, Form] = {}
        for turn in upright_turns(self.job, demand):
            forms.setdefault(turn % 180.0 == 90.0, form_of(demand.part, turn))
        first = forms.pop(min(forms))
        return _Kind(demand.part.name, first, next(iter(forms.values()), None))

    def _size(self, form: Form) -> tuple[int, int]:
        return round((form.width + self.gap) * PER_MM), round((form.height + self.gap) * PER_MM)

    def room(self, usable: Bounds) -> tuple[int, int]:
        return round((usable.width + self.gap) * PER_MM), round((usable.height + self.gap) * PER_MM)

    def size(self, kind: _Kind) -> tuple[int, int]:
        width, height = self._size(kind.first)
        return width // self.unit, height // self.unit

    def placement(self, kind: _Kind, usable: Bounds, x: int, y: int, *, turned: bool) -> Placement:
        form = kind.turned if turned and kind.turned is not None else kind.first
        step = self.unit / PER_MM
        left, bottom = usable.left + x * step - form.left, usable.bottom + y * step - form.bottom
        return Placement(kind.name, left, bottom, form.turn, form.mirrored)

    # Without waste

    def on_one(self, chance: random.Random, is_over: Callable[[], bool]) -> SheetLayout | None:
        """All on the cheapest sheet that may take them, as short as their area allows or little longer."""
        if sum(self.counts.values()) > FEW_PIECES:
            return None
        pieces = [Rectangle(*self.size(k), self.counts[k.name], k.turned is not None) for k in self.kinds]
        need = sum(piece.count * piece.width * piece.height for piece in pieces)
        for sheet, usable in sorted(self.sheets, key=lambda each: each[0].price):
            length, height = (side // self.unit for side in self.room(usable))
            least = -(-need // height)
            if least > length:
                continue
            goal = self._reachable(pieces, least, length)
            if goal is None or goal * height - need > LITTLE_WASTE * need:
                return None
            laid = edge_to_edge(pieces, goal, height, chance, is_over)
            if laid is None:
                return None
            placements = (self.placement(self.kinds[p.index], usable, p.x, p.y, turned=p.turned) for p in laid)
            return SheetLayout(sheet.name, tuple(placements))
        return None

    def _reachable(self, pieces: Sequence[Rectangle], least: int, most: int) -> int | None:
        """The shortest length from the least on that pieces side by side can have."""
        sums, mask = 1, (2 << most) - 1
        if most > 2**20:
            return least
        for piece in pieces:
            for _ in range(piece.count):
                sums |= (sums << piece.width | (sums << piece.height if piece.may_turn else 0)) & mask
        above = sums >> least
        return least + (above & -above).bit_length() - 1 if above else None

    # By the library

    def lay_all(self, seconds: Seconds, seed: int, report: Callable[[list[SheetLayout]], None]) -> list[SheetLayout]:
        """All parts on the cheapest sheets; [] where none were found."""
        kinds = [*self.kinds]
        if seed:
            # The library has no seed; the order of its item types is what decides between equals.
            random.Random(seed).shuffle(kinds)  # noqa: S311 - not for secrets
        builder = library.InstanceBuilder()
        # For one kind the plain objective is much quicker to a first answer.
        one_kind = len(self.sheets) == 1
        builder.set_objective(getattr(library.Objective, "BinPacking" if one_kind else "VariableSizedBinPacking"))
        cheapest = min((sheet.price for sheet, _ in self.sheets if sheet.price > 0), default=1.0)
        for sheet, usable in self.sheets:
            length, height = (side // self.unit for side in self.room(usable))
            copies = -1 if sheet.count is None else sheet.count
            builder.add_bin_type(length, height, cost=max(sheet.price, cheapest * 1e-6), copies=copies)
        self._add_items(builder, kinds, self.counts)

        def layouts(solution: Any) -> list[SheetLayout]:
            found = []
            for i in range(solution.number_of_different_bins()):
                packed = solution.bin(i)
                sheet, usable = self.sheets[packed.bin_type_id]
                placements = self._placements(packed, kinds, usable)
                if placements:
                    found.append(SheetLayout(sheet.name, placements, packed.copies))
            return found

        solution = _solved(builder, seconds, lambda output: report(layouts(output.solution)))
        return layouts(solution)

    def shorter(self, stock: str, counts: Mapping[str, int], seconds: Seconds) -> SheetLayout | None:
        """Parts on a sheet, laid as short as can be; None where that found no way."""
        sheet, usable = self._known[stock]
        length, height = (side // self.unit for side in self.room(usable))
        kinds = [kind for kind in self.kinds if counts.get(kind.name)]
        builder = library.InstanceBuilder()
        builder.set_objective(library.Objective.OpenDimensionX)
        builder.add_bin_type(ENDLESS * length, height, copies=1)
        self._add_items(builder, kinds, counts)
        solution = _solved(builder, seconds)
        if not solution.full() or solution.x_max() > length:
            return None
        return SheetLayout(sheet.name, self._placements(solution.bin(0), kinds, usable))

    def filled_up(self, stock: Sequence[str], power: float, seconds: Seconds) -> list[SheetLayout] | None:
        """All parts on these sheets, each filled as full as can be in its turn, the rest on the last, as short as can
        be; None where that found no way. A part is worth its area to the power.
        """
        counts, found, until = dict(self.counts), list[SheetLayout](), time.monotonic() + seconds
        for at, name in enumerate(stock[:-1]):
            _, usable = self._known[name]
            length, height = (side // self.unit for side in self.room(usable))
            kinds = [kind for kind in self.kinds if counts[kind.name]]
            builder = library.InstanceBuilder()
            builder.set_objective(library.Objective.Knapsack)
            builder.add_bin_type(length, height, copies=1)
            self._add_items(builder, kinds, counts, power)
            solution = _solved(builder, (until - time.monotonic()) / (len(stock) - at))
            if solution.number_of_different_bins():
                found.append(SheetLayout(name, self._placements(solution.bin(0), kinds, usable)))
                for p in found[-1].placements:
                    counts[p.part] -= 1
        if not any(counts.values()):
            return found
        last = self.shorter(stock[-1], counts, until - time.monotonic())
        return None if last is None else [*found, last]

    def _add_items(
        self, builder: Any, kinds: Sequence[_Kind], counts: Mapping[str, int], power: float | None = None
    ) -> None:
        for kind in kinds:
            width, height = self.size(kind)
            worth = {} if power is None else {"profit": float(width * height) ** power}
            builder.add_item_type(width, height, oriented=kind.turned is None, copies=counts[kind.name], **worth)

    def _placements(self, packed: Any, kinds: Sequence[_Kind], usable: Bounds) -> tuple[Placement, ...]:
        return tuple(
            self.placement(kinds[each.item_type_id], usable, each.x, each.y, turned=each.rotate)
            for each in packed.items
        )


def _solved(builder: Any, seconds: Seconds, on_better: Callable[[Any], None] | None = None) -> Any:
    settings = library.OptimizeParameters()
    settings.time_limit = max(0.05, seconds)
    settings.verbosity_level = 0
    settings.messages_to_stdout = False
    if on_better is not None:
        settings.new_solution_callback = on_better
    return library.optimize(builder.build(), settings).solution
