"""The centring check of a bar: ticked at the machine before the bar is cut, with what was measured on it.

A bar that does not run true is cut in the wrong place. What is measured (its outside, and how far it is twisted) may
be typed in, and is kept with the mark. The check is a mark like the others: it may be taken back, and putting the load
back into the queue ends it, for the next bar in the chuck may be another.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput
from shopfloor.base.roles import require
from shopfloor.floor.load_state import mark_whole
from shopfloor.floor.models import FloorEvent, Load
from shopfloor.stock.models import Kind, TubeSection
from shopfloor.stock.tolerances import outside_tolerance, twist_tolerance

VERB = "check-centring"
OFF_SHARE = Decimal("0.2")
"""A measure further off its nominal one than this share is taken for a typing error."""

MOST_TWIST_MM = Decimal(100)


@dataclass(frozen=True)
class Measure:
    """What may be measured on a bar: its name in forms and records, in words, and what it should be (None: 0)."""

    name: str
    label: str
    nominal_mm: Decimal | None = None


@dataclass(frozen=True)
class Measured:
    """One measure that was taken, and what there is to say about it ("" where nothing)."""

    measure: Measure
    value_mm: float
    remark: str


def measures_of(section: TubeSection) -> list[Measure]:
    """What may be measured on a bar of the section."""
    if section.shape in (TubeSection.Shape.ROUND, TubeSection.Shape.ROUND_BAR):
        return [Measure("diameter_mm", "Diameter", section.height_mm)]
    return [
        Measure("height_mm", "Height", section.height_mm),
        Measure("width_mm", "Width", section.width_mm),
        Measure("twist_mm", "Twist"),
    ]


def check_centring(
    load: Load, *, by: User, key: object = None, measured: Mapping[str, object] | None = None
) -> FloorEvent:
    """The bar runs true in the chuck; `measured` in mm by name of measure, "" or left out where not measured.

    Raises:
        BadInput: the load is a sheet; a measure that is none of its section's, no number, or cannot be.
        WrongState: the load is not at the machine.
    """
    require(by, VERB)
    kept = _checked(load, measured or {})
    return mark_whole(load, VERB, by=by, key=key, work=lambda _: {"detail": kept})


def centring_of(load: Load) -> FloorEvent | None:
    """The check that stands for the load since it was pulled, or None."""
    return standing_check(load.events.select_related("undone_by", "actor").order_by("-pk"))


def standing_check(events: Iterable[FloorEvent]) -> FloorEvent | None:
    """The check among a load's events, last first, that was not taken back since the load was pulled."""
    for event in events:
        if event.verb == VERB and not hasattr(event, "undone_by"):
            return event
        if event.verb in ("pull", "put-back", "recall"):
            return None
    return None


def measured_at(event: FloorEvent, load: Load) -> list[Measured]:
    """What was measured at a check, in the order of the form."""
    section = load.stock.section
    if section is None:
        return []
    taken = ((measure, event.detail.get(measure.name)) for measure in measures_of(section))
    length = float(load.stock.length_mm)
    return [Measured(each, mm, _remark(section, each, mm, length)) for each, mm in taken if mm is not None]


def _checked(load: Load, measured: Mapping[str, object]) -> dict[str, float]:
    section = load.stock.section
    if load.layout.nest.kind != Kind.TUBE or section is None:
        raise BadInput(f"{load} is a sheet: only bars are centred.")
    known = {measure.name: measure for measure in measures_of(section)}
    kept = {}
    for name, said in measured.items():
        text = str("" if said is None else said).strip().replace(",", ".")
        if not text:
            continue
        if name not in known:
            raise BadInput(f"{name} is not measured on {section}: that takes {', '.join(known)}.", name[:40])
        kept[name] = float(_within(known[name], text))
    return kept


def _within(measure: Measure, text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise BadInput(f"{measure.label}: type a number in mm, not “{text[:20]}”.", measure.name)
    if measure.nominal_mm is None:
        if not 0 <= value <= MOST_TWIST_MM:
            raise BadInput(f"{measure.label}: 0 to {MOST_TWIST_MM} mm, not {text[:20]}.", measure.name)
    elif abs(value - measure.nominal_mm) > OFF_SHARE * measure.nominal_mm:
        nominal = f"{measure.nominal_mm.normalize():f}"
        raise BadInput(
            f"{measure.label}: {text[:20]} mm is far from {nominal} mm. Measure again; if it is so, this is another "
            "bar than the one to load.",
            measure.name,
        )
    return round(value, 2)


def _remark(section: TubeSection, measure: Measure, value: float, length_mm: float) -> str:
    """How far off the measure is, and what the section's standard allows where it is more than that."""
    if measure.nominal_mm is None:
        off, allowed, words = value, twist_tolerance(section, length_mm), ""
    else:
        off = value - float(measure.nominal_mm)
        allowed = outside_tolerance(section, float(measure.nominal_mm))
        words = f"{abs(off):.1f} mm {'more' if off > 0 else 'less'} than drawn" if abs(off) >= 0.05 else "as drawn"
    if allowed is not None and abs(off) > allowed + 1e-9:
        over = f"more than the {allowed:.1f} mm that {section.standard} allows: ask before you cut"
        return f"{words}, {over}" if words else over
    return words
