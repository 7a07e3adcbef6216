"""What an engine that lays sheet after sheet needs to know of the pieces and sheets of its job, worked out once."""

import math
from collections.abc import Mapping

from shapely.geometry import Polygon

from nesting.geometry.contour import Bounds
from nesting.layout.bulk import bulk_of, room_of
from nesting.layout.composites import Pieces
from nesting.layout.fits import Form, forms_of, may_fit
from nesting.layout.free_rectangle import is_upright_rectangle, usable_rectangle
from nesting.layout.outlines import lighter
from nesting.layout.score import due_ranks
from nesting.model.nest import SheetJob
from nesting.model.stock import Sheet
from nesting.units import Mm, Mm2

RING: Mm = 0.15
"""Flattening height of outlines for the strip library, outwards: with half as many corners it packs far more a second,
and a gap grows by a tenth of a millimetre."""


class Measures:
    """All by the piece's name: `bulk`, `rings` (corners of an enclosing polygon), `forms`, `turns`, and `ranks` in the
    order of due dates (nothing where all are due alike). `usable` is what plain sheets offer, by the sheet's name.
    """

    def __init__(self, pieces: Pieces, whole: SheetJob, gap: Mm, margin: Mm) -> None:
        self.job, self._gap, self._margin = pieces.job, gap, margin
        job = pieces.job
        self.parts = {demand.part.name: demand.part for demand in job.demands}
        self.turns = {demand.part.name: job.turns_of(demand) for demand in job.demands}
        # Pieces of one part with different contents are alike from outside.
        known: dict[str, tuple[Mm2, list[list[float]], list[Form]]] = {}
        for demand in job.demands:
            whose = pieces.contents[demand.part.name][0]
            if whose not in known:
                ring = Polygon(lighter(demand.part.outer, "outwards").polygon(RING, "outwards"))
                corners = [[x, y] for x, y in ring.exterior.coords[:-1]]
                forms = forms_of(demand.part, job.turns_of(demand), mirror=job.rules.mirror)
                known[whose] = (bulk_of(demand.part, gap), corners, forms)
        self.bulk = {name: known[pieces.contents[name][0]][0] for name in self.parts}
        self.rings = {name: known[pieces.contents[name][0]][1] for name in self.parts}
        self.forms = {name: known[pieces.contents[name][0]][2] for name in self.parts}
        # What holds a part that is due early is due with it.
        ranks = due_ranks(whole)
        self.ranks = {
            name: min(ranks[part] for part in (host, *(p.part for p in held)))
            for name, (host, held) in (pieces.contents.items() if ranks else ())
        }
        self.usable: dict[str, Bounds] = {}
        for sheet in job.stock:
            usable = usable_rectangle(sheet.outline, margin) if is_upright_rectangle(sheet.outline) else None
            if usable is not None:
                self.usable[sheet.name] = usable

    def fits(self, name: str, sheet: Sheet) -> bool:
        return any(may_fit(form, sheet, self._margin) for form in self.forms[name])

    def room(self, sheet: Sheet) -> Mm2:
        """What a sheet offers to bulks."""
        usable = self.usable.get(sheet.name)
        return sheet.outline.area if usable is None else room_of(usable, self._gap)

    def total(self, counts: Mapping[str, int]) -> Mm2:
        """The bulk of so many pieces together."""
        return math.fsum(self.bulk[name] * count for name, count in counts.items())

    def sheet(self, name: str) -> Sheet:
        return next(sheet for sheet in self.job.stock if sheet.name == name)
