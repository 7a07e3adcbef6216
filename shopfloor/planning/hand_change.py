"""Works out what follows when a person moves the pieces of one sheet of a nest; stores nothing.

Pieces are named by a *piece key*, the id of their part with the mark of how it lies to the grain ("12", "12a") and the
order's id where orders are kept together ("12a-7"), because names in a nest may change when lines come to it.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import chain

from nesting.model.nest import Demand, Placement, SheetJob, SheetLayout, SheetNest, Unplaced
from nesting.model.part import SheetPart
from shopfloor.base.errors import BadInput, Refused
from shopfloor.orders.models import Grain, OrderLine
from shopfloor.orders.progress import OPEN, Shift
from shopfloor.planning.demand import GroupKey, group_of
from shopfloor.planning.job import GRAIN_TURNS, demands_of, part_names, sameness
from shopfloor.planning.models import Nest

TAKEN_OFF = "taken off by hand"


@dataclass(frozen=True)
class SheetByHand:
    """One sheet as it is to be: `pieces` are placements whose part is a piece key.

    `position` counts from 1, `version` is the nest's when the sheet was fetched. With `one_copy` only one of the
    sheet's copies is changed, and stands apart from then on.
    """

    version: int
    position: int
    pieces: tuple[Placement, ...]
    one_copy: bool = False


def piece_key(line: OrderLine, *, by_order: bool = False) -> str:
    """`by_order` is the nest's `kits_together`."""
    return sameness(line, by_order=by_order).key


def waiting_lines(nest: Nest) -> list[OrderLine]:
    """Lines of the nest's group with open pieces, earliest due first."""
    group = group_of(GroupKey(nest.kind, nest.material_id, nest.thickness_mm, nest.section_id))
    return group.lines if group else []


class Change:
    """All that follows from the sheet as it is to be, worked out and not stored.

    `origins` has for each layout of `answer` the position it had (None for a copy that was split off), `touched` the
    indices of those that must be drawn again.
    """

    def __init__(self, nest: Nest, sheet: SheetByHand) -> None:
        before = nest.noun
        assert isinstance(before, SheetNest)  # noqa: S101 - asked before
        if not 1 <= sheet.position <= len(before.layouts):
            raise BadInput(f"{nest} has no sheet {sheet.position}.", "position")
        self._by_order = nest.kits_together
        self._demands = demands_of(nest)
        self._waiting = waiting_lines(nest)
        own_lines = [demand.line for demand in self._demands]
        names = part_names(own_lines, by_order=self._by_order)
        key_of_name = {names[line.pk]: self._key(line) for line in own_lines}
        self._line_of_key = {self._key(line): line for line in chain(self._waiting, own_lines)}
        for piece in sheet.pieces:
            if piece.part not in self._line_of_key:
                raise BadInput(
                    "A piece is of a part that is neither in this nest nor waits. Reload the page.", "pieces"
                )
        old = [
            replace(each, placements=tuple(replace(p, part=key_of_name[p.part]) for p in each.placements))
            for each in before.layouts
        ]
        layouts, self.origins = _changed(old, sheet)
        if not layouts:
            raise Refused(f"Nothing would be left in {nest}. Throw it away instead.", "nothing-left")
        self.words = _words(old[sheet.position - 1], sheet)
        counts = _placed(layouts)
        self.fill_of_line = {demand.line_id: demand.fill_count for demand in self._demands}
        self.count_of_line, self.shifts = self._settle(counts)
        lines = {line.pk: line for line in chain(own_lines, self._waiting) if line.pk in self.count_of_line}
        self.due_on = min(
            # What only fills room hurries nothing, unless it is all there is.
            (self.count_of_line[pk] == self.fill_of_line.get(pk, 0), line.order.due_on)
            for pk, line in lines.items()
            if self.count_of_line[pk]
        )[1]
        new_names = part_names(lines.values(), by_order=self._by_order)
        self.answer = self._answer(before, layouts, counts, key_of_name, new_names)
        # Every picture tells of how many sheets it is one, and cut files name parts.
        same = len(layouts) == len(old) and self._same_names(before, self.answer)
        self.touched = {sheet.position - 1} if same else set(range(len(layouts)))

    def _key(self, line: OrderLine) -> str:
        return piece_key(line, by_order=self._by_order)

    def _same_names(self, before: SheetNest, after: SheetNest) -> bool:
        return [d.part.name for d in before.job.demands] == [d.part.name for d in after.job.demands]

    def _settle(self, counts: Mapping[str, int]) -> tuple[dict[int, int], list[Shift]]:
        """How many of each line the nest holds from now on, and the shifts that lead there.

        What only fills room is given up first, then the latest due lines give up; the earliest due get pieces first.
        """
        held = {demand.line_id: demand.count for demand in self._demands}
        lines: dict[str, list[OrderLine]] = {}
        for demand in self._demands:
            lines.setdefault(self._key(demand.line), []).append(demand.line)
        had = Counter({key: sum(held[line.pk] for line in of_key) for key, of_key in lines.items()})
        open_lines: dict[str, list[OrderLine]] = {}
        for line in self._waiting:
            open_lines.setdefault(self._key(line), []).append(line)
        shifts = []
        for key in had.keys() | counts.keys():
            more = counts.get(key, 0) - had[key]
            latest_first = lines.get(key, [])[::-1]
            for line, is_fill in [(line, True) for line in latest_first] + [(line, False) for line in latest_first]:
                less = min(self.fill_of_line[line.pk] if is_fill else held[line.pk], max(0, -more))
                held[line.pk] -= less
                self.fill_of_line[line.pk] -= less if is_fill else 0
                more += less
                shifts.append(Shift(line.pk, "nested", OPEN, less, TAKEN_OFF))
            wanted = more
            for line in open_lines.get(key, []):
                if taken := min(line.open_count, more):
                    held[line.pk] = held.get(line.pk, 0) + taken
                    more -= taken
                    shifts.append(Shift(line.pk, OPEN, "nested", taken, "added by hand"))
            if more:
                part = self._line_of_key[key].part.name
                raise Refused(f"{wanted} more of {part} are on the sheet, but {wanted - more} wait.", "too-few-wait")
        return held, shifts

    def _answer(
        self,
        before: SheetNest,
        layouts: list[SheetLayout],
        counts: Mapping[str, int],
        key_of_name: Mapping[str, str],
        names: Mapping[int, str],
    ) -> SheetNest:
        """The nest under its new names. Parts stand in their old order, so that pictures keep their tints."""
        name_of_key = {self._key(line): names[line.pk] for line in self._line_of_key.values() if line.pk in names}
        had = Counter[str]()
        for layout in before.layouts:
            for p in layout.placements:
                had[key_of_name[p.part]] += layout.copies
        left_out: dict[str, list[Unplaced]] = {}
        for row in before.unplaced:
            left_out.setdefault(key_of_name[row.part], []).append(row)
        demands, unplaced = [], []
        for demand in before.job.demands:
            key = key_of_name[demand.part.name]
            name, placed = name_of_key[key], counts.get(key, 0)
            # Of the pieces in left-over room only the last ones are taken off; what is added is wanted.
            filling = min(max(0, had[key] - demand.count), max(0, placed - demand.count))
            wanted = max(demand.count, placed - filling)
            most = None if demand.fill_up_to is None else max(demand.fill_up_to, placed)
            demands.append(replace(demand, part=replace(demand.part, name=name), count=wanted, fill_up_to=most))
            unplaced += _left_out(name, max(0, wanted - placed), left_out.get(key, []))
        known = set(key_of_name.values())
        for key in (key for key in counts if key not in known):
            line = self._line_of_key[key]
            part = line.part.noun
            assert isinstance(part, SheetPart)  # noqa: S101 - its group is of sheet
            demands.append(self._added(replace(part, name=name_of_key[key]), counts[key], line))
        job = SheetJob(before.job.stock, before.job.rules, tuple(demands))
        named = tuple(
            replace(each, placements=tuple(replace(p, part=name_of_key[p.part]) for p in each.placements))
            for each in layouts
        )
        engine = before.engine if before.engine.endswith("by hand") else f"{before.engine}, then by hand"
        return SheetNest(job, named, tuple(unplaced), False, before.seed, before.seconds, engine, before.cut_short)

    def _added(self, part: SheetPart, count: int, line: OrderLine) -> Demand[SheetPart]:
        kit = line.order.number if self._by_order else ""
        return Demand(part, count, GRAIN_TURNS[Grain(line.grain)], line.order.due_on, kit)


def _changed(old: list[SheetLayout], sheet: SheetByHand) -> tuple[list[SheetLayout], list[int | None]]:
    """The layouts with the sheet as it is to be, and the position each had before."""
    index = sheet.position - 1
    apart = sheet.one_copy and old[index].copies > 1
    layouts: list[SheetLayout] = []
    origins: list[int | None] = []
    for position, each in enumerate(old, 1):
        as_it_will_be = each
        if position == sheet.position:
            as_it_will_be = replace(each, copies=each.copies - 1) if apart else replace(each, placements=sheet.pieces)
        if as_it_will_be.placements:
            layouts.append(as_it_will_be)
            origins.append(position)
    if apart and sheet.pieces:
        layouts.append(replace(old[index], placements=sheet.pieces, copies=1))
        origins.append(None)
    return layouts, origins


def _placed(layouts: Iterable[SheetLayout]) -> Counter[str]:
    counts: Counter[str] = Counter()
    for layout in layouts:
        for placement in layout.placements:
            counts[placement.part] += layout.copies
    return counts


def _left_out(name: str, count: int, rows: list[Unplaced]) -> list[Unplaced]:
    """Rows for so many of a part that are not laid: those known before with their reason, then what was taken off."""
    left = []
    for row in rows:
        if kept := min(row.count, count):
            left.append(Unplaced(name, kept, row.reason))
            count -= kept
    return [*left, Unplaced(name, count, TAKEN_OFF)] if count else left


def _words(old: SheetLayout, sheet: SheetByHand) -> str:
    """What was done, for the event."""
    was, is_now = Counter(old.placements), Counter(sheet.pieces)
    if was == is_now:
        raise BadInput("Nothing was changed on this sheet.", "pieces")
    was_of = Counter(p.part for p in old.placements)
    now_of = Counter(p.part for p in sheet.pieces)
    added, taken = (now_of - was_of).total(), (was_of - now_of).total()
    moved = (is_now - was).total() - added
    done = [f"{count} {word}" for count, word in ((moved, "moved"), (taken, "taken off"), (added, "added")) if count]
    copies = ""
    if old.copies > 1:
        copies = f", one of {old.copies} copies" if sheet.one_copy else f", all {old.copies} copies"
    return f"sheet {sheet.position}{copies}: {', '.join(done)}"
