"""Numbers with their units, and dates as people in a shop say them. Thin spaces group the thousands: "1 250 mm"."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django import template
from django.utils import timezone

register = template.Library()

THIN = "\u202f"
type Number = float | Decimal | int | None


def _grouped(value: Number, places: int) -> str:
    text = f"{float(value or 0):,.{places}f}".replace(",", THIN)
    # A measure drawn as a whole number reads as one.
    return text.rstrip("0").rstrip(".") if "." in text else text


@register.filter
def mm(value: Number) -> str:
    """A length to 0.1 mm; "" where there is none."""
    return "" if value is None else f"{_grouped(value, 1)}{THIN}mm"


@register.filter
def size(thing: Any) -> str:
    """Length and width of a sheet, "2 500 × 1 250 mm"; the length alone of a bar. Takes rows and records alike."""
    read = thing.get if isinstance(thing, dict) else lambda name: getattr(thing, name, None)
    length, width = read("length_mm"), read("width_mm")
    return mm(length) if width is None else f"{_grouped(length, 1)} × {mm(width)}"


@register.filter
def mm_fine(value: Number) -> str:
    """A thickness or wall to 0.01 mm."""
    return "" if value is None else f"{_grouped(value, 2)}{THIN}mm"


@register.filter
def metres(value_mm: Number) -> str:
    """A long way, such as a cut length, in metres to 0.1."""
    return "" if value_mm is None else f"{_grouped(float(value_mm) / 1000, 1)}{THIN}m"


@register.filter
def kg(value: Number) -> str:
    """A mass to 0.1 kg, small parts to a gram."""
    if value is None:
        return ""
    return f"{_grouped(value, 3 if 0 < float(value) < 1 else 1)}{THIN}kg"


@register.filter
def percent(share: Number) -> str:
    """A share of 1 as a percentage to 0.1."""
    return "" if share is None else f"{float(share) * 100:.1f}{THIN}%"


@register.filter
def minutes(value: timedelta | Number) -> str:
    """A time: seconds under a minute and a half, then minutes, then hours and minutes."""
    if value is None:
        return ""
    seconds = value.total_seconds() if isinstance(value, timedelta) else float(value)
    if seconds < 90:
        return f"{seconds:.0f}{THIN}s"
    if seconds < 5400:
        return f"{seconds / 60:.0f}{THIN}min"
    hours, rest = divmod(round(seconds / 60), 60)
    return f"{hours}{THIN}h {rest}{THIN}min"


@register.filter
def day(value: date | None) -> str:
    """Weekday, day and month ("Thu 3 Dec"), with the year where it is not this one."""
    if value is None:
        return ""
    year = "" if value.year == timezone.localdate().year else f" {value.year}"
    return f"{value:%a} {value.day} {value:%b}{year}"


@register.filter
def days_away(value: date | None) -> str:
    """How far away it is: "today", "tomorrow", "in 5 days", "2 days ago"."""
    if value is None:
        return ""
    days = (value - timezone.localdate()).days
    named = {0: "today", 1: "tomorrow", -1: "yesterday"}
    if days in named:
        return named[days]
    return f"in {days} days" if days > 0 else f"{-days} days ago"


@register.filter
def is_late(value: date | None) -> bool:
    """Whether the day has passed."""
    return value is not None and value < timezone.localdate()
