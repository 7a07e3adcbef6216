"""Checks of numbers that sheets and bars share: copies, stock used, and every wanted part laid or accounted for."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Literal

from nesting.model.findings import Finding, Severity
from nesting.model.nest import BarLayout, SheetLayout, Unplaced


def stock_faults(
    noun: Literal["sheet", "bar"],
    layouts: Sequence[SheetLayout | BarLayout],
    stock: Mapping[str, int | None],
) -> list[Finding]:
    """Layouts on unknown stock, without copies or pieces, or of more sheets or bars than there are."""
    faults = []
    used: Counter[str] = Counter()
    for number, layout in enumerate(layouts, 1):
        where = f"{noun.capitalize()} {number}"
        if layout.stock not in stock:
            faults.append(_fault("unknown-stock", f"{where}: the job has no stock {layout.stock!r}."))
        if layout.copies < 1:
            faults.append(_fault("no-copies", f"{where}: {layout.copies} copies; at least 1 is needed."))
        if not (layout.placements if isinstance(layout, SheetLayout) else layout.pieces):
            faults.append(_fault("nothing-laid", f"{where}: nothing is laid on it; take the {noun} out of the nest."))
        # A negative count must not hide that others are too many.
        used[layout.stock] += max(0, layout.copies)
    for name, count in used.items():
        at_hand = stock.get(name)
        if at_hand is not None and count > at_hand:
            faults.append(_fault("stock-exceeded", f"{count} of {name} used, {at_hand} in stock."))
    return faults


def count_faults(
    wanted: Mapping[str, int],
    placed: Mapping[str, int],
    unplaced: Sequence[Unplaced],
    most: Mapping[str, int] | None = None,
) -> list[Finding]:
    """Parts nobody asked for, and parts of which the laid and the left-out ones do not make the wanted number.

    Of parts that may fill left-over room up to `most` may be laid, beyond what is wanted.
    """
    faults = []
    left_out: Counter[str] = Counter()
    for row in unplaced:
        if row.count < 0:
            faults.append(_fault("negative-count", f"{row.part}: {row.count} are listed as not laid."))
        left_out[row.part] += row.count
    strangers = sorted((set(placed) | set(left_out)) - set(wanted))
    faults += [
        _fault("unknown-part", f"{name!r} is in the nest, but the job does not ask for it.") for name in strangers
    ]
    for name, count in wanted.items():
        laid = placed.get(name, 0)
        if (most or {}).get(name, count) > count and laid > count:
            if laid > (most or {})[name] or left_out[name]:
                text = f"{name}: {laid} laid and {left_out[name]} left out; at most {(most or {})[name]} may be laid."
                faults.append(_fault("count-off", text))
        elif laid + left_out[name] != count:
            text = f"{name}: {laid} laid and {left_out[name]} left out, but {count} wanted."
            faults.append(_fault("count-off", text))
    return faults


def _fault(code: str, message: str) -> Finding:
    return Finding(code, Severity.REFUSAL, message)
