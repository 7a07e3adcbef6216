"""What the tablet shows of a bar beside what it shows of a sheet: each piece by its own picture, how the bar is loaded,
and its centring.
"""

from dataclasses import dataclass
from typing import Any

from django.http import QueryDict

from nesting import route
from shopfloor.floor.centring import centring_of, measured_at, measures_of
from shopfloor.floor.models import Load, LoadState
from shopfloor.parts.models import Part
from shopfloor.parts.pictures import cuts_in_words, shown
from shopfloor.planning.models import Layout, Nest
from shopfloor.stock.models import Kind


@dataclass(frozen=True)
class PieceOnBar:
    """One piece of a load's bar: which part it is, for whom, and how it lies."""

    number: int
    part: Part
    order: str
    customer: str
    picture_names: tuple[str, ...]
    start_mm: float
    is_flipped: bool
    turn_deg: float

    @property
    def words(self) -> list[str]:
        """Length, place on the bar, how it lies there, and its cuts; a line each."""
        lies = f"{self.start_mm:.0f} mm from the bar's front"
        if self.is_flipped:
            lies += ", its end first"
        if self.turn_deg:
            lies += f", turned by {self.turn_deg:.0f}°"
        cuts = [f"{where}: {what}" for where, what in cuts_in_words(self.part)[:2]]
        return [f"{self.part.length_mm:.1f} mm long", lies, *cuts]


def pieces_on_bar(load: Load) -> list[PieceOnBar]:
    """The pieces of the load's bar from its front."""
    bars = Nest.objects.values_list("result__bars", flat=True).get(pk=load.layout.nest_id)
    places = bars[load.layout.position - 1]["pieces"]
    pieces = load.workpieces.select_related("line__order__customer").order_by("number")
    parts = Part.objects.filter(pk__in=load.workpieces.order_by().values("line__part"))
    known = parts.select_related("drawing", "section").defer("picture").in_bulk()
    names = {pk: tuple(route.part_pictures(part.noun)) for pk, part in known.items()}
    return [
        PieceOnBar(
            piece.number,
            known[piece.line.part_id],
            piece.line.order.number,
            piece.line.order.customer.name,
            names[piece.line.part_id],
            float(place["start_mm"]),
            bool(place.get("flipped")),
            float(place.get("turn_deg", 0.0)),
        )
        for piece, place in zip(pieces, places, strict=True)
    ]


def bar_context(load: Load, asked: QueryDict, first: int = 1) -> dict[str, Any]:
    """What the pages of a load need where it is a bar; nothing for a sheet.

    `asked` may name the `piece` that is shown, in place of the `first` one, and how it is seen.
    """
    section = load.stock.section
    if load.layout.nest.kind != Kind.TUBE or section is None:
        return {"is_bar": False}
    pieces = pieces_on_bar(load)
    number = asked.get("piece", "")
    place = min(max(int(number) if number.isdecimal() and len(number) < 6 else first, 1), len(pieces)) - 1
    check = centring_of(load)
    is_flat = Layout.objects.filter(pk=load.layout_id, flat_file__isnull=False).exists()
    return {
        "is_bar": True,
        "cut_file_name": load.layout.named("dxf") if is_flat else load.layout.cut_file_name,
        "pieces": pieces,
        "piece": pieces[place],
        "piece_before": pieces[place - 1].number,
        "piece_after": pieces[(place + 1) % len(pieces)].number,
        "shown": shown(pieces[place].part, asked, usually="slanted"),
        "keep_piece": f"piece={place + 1}&",
        "centring": check,
        "measured": measured_at(check, load) if check else [],
        "measures": measures_of(section),
        "to_centre": check is None and load.state == LoadState.AT_MACHINE,
    }
