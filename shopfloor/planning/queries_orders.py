"""On which sheets or bars of a nest each order lies, and with how many pieces."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from shopfloor.orders.models import Order
from shopfloor.planning.for_whom import lines_of_pieces
from shopfloor.planning.models import Nest, NestDemand


@dataclass(frozen=True)
class LineShare:
    """What a nest holds of one line, and the positions of the sheets or bars with pieces of it."""

    demand: NestDemand
    positions: list[int]

    @property
    def where(self) -> str:
        return in_words(self.positions)


@dataclass(frozen=True)
class OrderShare:
    """One order's lines in a nest."""

    order: Order
    lines: list[LineShare]

    @property
    def positions(self) -> list[int]:
        return sorted({position for share in self.lines for position in share.positions})

    @property
    def where(self) -> str:
        return in_words(self.positions)


def orders_on_sheets(nest: Nest) -> list[OrderShare]:
    """The orders of a nest, earliest due first, from what `nest_with_layouts` has fetched."""
    demands = [demand for demand in nest.demands.all() if demand.count]
    where = sheets_of_lines(nest, demands)
    shares: dict[int, list[LineShare]] = {}
    for demand in demands:
        shares.setdefault(demand.line.order_id, []).append(LineShare(demand, where.get(demand.line_id, [])))
    return [OrderShare(lines[0].demand.line.order, lines) for lines in shares.values()]


def sheets_of_lines(nest: Nest, demands: Iterable[NestDemand]) -> dict[int, list[int]]:
    """For each line (by id) the positions of the sheets or bars that hold pieces of it.

    Nothing before it is laid out, and nothing for a rival, which holds no pieces. The demand comes earliest due first,
    with lines, orders and parts.
    """
    demands = list(demands)
    if nest.result is None or not demands:
        return {}
    layouts = [
        (row.get("copies", 1), [piece["part"] for piece in row.get("placements") or row.get("pieces") or []])
        for row in nest.result.get("sheets") or nest.result.get("bars") or []
    ]
    found: dict[int, set[int]] = {}
    for position, copies in enumerate(lines_of_pieces(nest, demands, layouts), 1):
        for line in (line for lines in copies for line in lines):
            found.setdefault(line.pk, set()).add(position)
    return {line_id: sorted(positions) for line_id, positions in found.items()}


def orders_apart(nest: Nest) -> int:
    """How many of the orders that a nest keeps together lie on more than one sheet all the same, counting copies."""
    record = nest.result or {}
    kit_of = {part["name"]: part.get("kit", "") for part in record.get("parts", [])}
    sheets: Counter[str] = Counter()
    for sheet in record.get("sheets", []):
        for kit in {kit_of[piece["part"]] for piece in sheet["placements"]} - {""}:
            sheets[kit] += sheet.get("copies", 1)
    return sum(1 for count in sheets.values() if count > 1)


def in_words(positions: list[int]) -> str:
    """Positions in short: "1, 3–5"."""
    runs = [
        [position for _, position in run] for _, run in groupby(enumerate(positions), lambda pair: pair[1] - pair[0])
    ]
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)
