"""The colours of every page against WCAG 2.2, success criterion 1.4.3: text stands out by 4.5 to 1."""

import re
from pathlib import Path

import pytest

# Source: W3C, Web Content Accessibility Guidelines 2.2, definitions of relative luminance and contrast ratio.
TOKENS = Path(__file__).parents[3] / "shopfloor/static/css/tokens.css"
DARK = "@media (prefers-color-scheme: dark)"
TEXT = {
    "ink": ("ground", "card", "card-2", "accent-soft", "good-soft", "bad-soft", "warn-soft"),
    "ink-2": ("ground", "card"),
    "accent": ("ground", "card"),
    "bad": ("ground", "card"),
    "accent-ink": ("accent",),
}
# As `shop.css` has them: what is written on the steps of a bar.
ON_STEPS = {
    "light": {"step-good": "#ffffff", "step-broken_out": "#ffffff", "step-cut": "#ffffff", "step-nested": "#14181c"},
    "dark": {"step-good": "#0d100d", "step-broken_out": "#0d100d", "step-cut": "#0d100d", "step-nested": "#ffffff"},
}


def tokens(scheme: str) -> dict[str, str]:
    light, dark = TOKENS.read_text().split(DARK)
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", light))
    return found | dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", dark)) if scheme == "dark" else found


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_measure_is_21_between_black_and_white():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_from_what_it_stands_on(scheme):
    found = tokens(scheme)
    pairs = [
        (found[text], found[ground], f"{text} on {ground}") for text, grounds in TEXT.items() for ground in grounds
    ]
    pairs += [(text, found[step], f"text on {step}") for step, text in ON_STEPS[scheme].items()]
    assert [name for text, ground, name in pairs if contrast(text, ground) < 4.5] == []
