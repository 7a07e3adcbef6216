"""The marks that mean the same everywhere: the filling disc of a piece's state, and the bar of a line or order.

A disc fills as the work goes on: ordered (empty), nested (a quarter), cut (half), broken out (three quarters), good
(full); scrap is crossed out, rework is half with a dot. Shape and word carry the meaning; colour only helps.
"""

import uuid
from dataclasses import dataclass
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()

WORDS = {
    "": "ordered",
    "open": "ordered",
    "planned": "being nested",
    "nested": "nested",
    "cut": "cut",
    "broken_out": "broken out",
    "rework": "rework",
    "good": "good",
    "scrapped": "scrap",
    "lost": "lost",
    "recalled": "recalled",
}

_SLICES = {"planned": 0.125, "nested": 0.25, "cut": 0.5, "broken_out": 0.75, "rework": 0.5}
_PIE = {
    0.125: "M10 10V3A7 7 0 0 1 14.95 5.05Z",
    0.25: "M10 10V3A7 7 0 0 1 17 10Z",
    0.5: "M10 10V3A7 7 0 0 1 10 17Z",
    0.75: "M10 10V3A7 7 0 1 1 3 10Z",
}


@register.simple_tag
def disc(step: str, word: bool = True) -> SafeString:
    """The disc of a step with its word beside it, or (word False) with the word for screen readers only."""
    name = step or "open"
    inner = SafeString("")
    if name == "good":
        inner = SafeString('<circle cx="10" cy="10" r="7" class="disc-fill"/>')
    elif name in ("scrapped", "lost", "recalled"):
        inner = SafeString('<path d="M4 4 16 16M16 4 4 16" class="disc-cross"/>')
    elif name in _SLICES:
        inner = format_html('<path d="{}" class="disc-fill"/>', _PIE[_SLICES[name]])
        if name == "rework":
            inner += SafeString('<circle cx="6.4" cy="10" r="1.7" class="disc-fill"/>')
    return format_html(
        '<span class="state state-{}"><svg class="disc" viewBox="0 0 20 20" aria-hidden="true">'
        '<circle cx="10" cy="10" r="8" class="disc-rim"/>{}</svg><span class="{}">{}</span></span>',
        name,
        inner,
        "state-word" if word else "only-read",
        WORDS[name],
    )


@dataclass(frozen=True)
class Stretch:
    """One stretch of a bar: a step, how many pieces stand there, and its share of the width in percent."""

    step: str
    word: str
    count: int
    width: float


ORDERED = ("good", "rework", "broken_out", "cut", "nested", "planned")


@register.inclusion_tag("base/_bar.html")
def piece_bar(counts: Any, quantity: int | None = None) -> dict[str, Any]:
    """The bar of a line, or of anything with the same `<step>_count` names: furthest come first, open last."""

    def count_of(step: str) -> int:
        name = f"{step}_count"
        return int((counts.get(name) if isinstance(counts, dict) else getattr(counts, name, 0)) or 0)

    if quantity is None:
        quantity = counts["quantity"] if isinstance(counts, dict) else counts.quantity
    stretches = [Stretch(s, WORDS[s], n, 100 * n / max(1, quantity)) for s in ORDERED if (n := count_of(s))]
    rest = quantity - sum(stretch.count for stretch in stretches)
    if rest > 0:
        stretches.append(Stretch("open", WORDS["open"], rest, 100 * rest / max(1, quantity)))
    gone = count_of("scrapped") + count_of("lost")
    return {"stretches": stretches, "quantity": quantity, "good": count_of("good"), "gone": gone}


@register.simple_tag
def fresh_key() -> str:
    """A request key for a form drawn by the server; a form sent twice then counts once."""
    return str(uuid.uuid4())
