import re
from pathlib import Path

from nesting import export
from nesting.export.svg_style import STYLE


def rules():
    return re.findall(r"([^{}]+)\{([^{}]*)\}", STYLE)


def test_every_rule_is_bound_to_pictures_so_that_none_reaches_the_page():
    for selectors, _ in rules():
        for selector in selectors.split(","):
            assert re.match(r"^\.picture(\b|[.: ])", selector), selector


def test_every_colour_is_a_token_with_a_value_of_its_own():
    for selectors, body in rules():
        for name, value in re.findall(r"([\w-]+):((?:[^;(]|\([^)]*\))+)", body):
            if name in ("fill", "stroke", "background", "color"):
                assert re.fullmatch(r"none|currentColor|var\(--[\w-]+,#[0-9a-f]{6}\)", value), (selectors, value)


def test_words_stand_out_from_the_ground_and_from_every_fill():
    # Source: W3C, Web Content Accessibility Guidelines 2.1, 1.4.3 and 1.4.6: contrast of 4.5:1, enhanced 7:1.
    tokens = dict(re.findall(r"var\((--[\w-]+),(#[0-9a-f]{6})\)", STYLE))
    ink, quiet = tokens["--picture-ink"], tokens["--picture-quiet-text"]
    for name in (
        "--picture-ground",
        "--sheet-fill",
        "--piece-fill",
        "--piece-fill-2",
        "--piece-fill-3",
        "--piece-fill-4",
    ):
        assert contrast(ink, tokens[name]) >= 7.0, name
    for name in ("--picture-ground", "--sheet-fill", "--remnant-fill"):
        assert contrast(quiet, tokens[name]) >= 4.5, name
    assert contrast(tokens["--picture-ground"], tokens["--picture-accent"]) >= 4.5


def contrast(one, other):
    """Source: W3C, Web Content Accessibility Guidelines 2.1, definitions of contrast ratio and relative luminance."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour):
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_class_that_pictures_use_has_a_rule_or_a_purpose():
    used = set()
    for module in Path(export.__path__[0]).glob("svg_*.py"):
        used |= set(re.findall(r'class="([a-z][a-z ]*)"', module.read_text()))
        used |= set(re.findall(r'css="([a-z ]+)"', module.read_text()))
    words = {word for each in used for word in each.split()}
    known = set(re.findall(r"\.([a-z][\w-]*)", STYLE))
    assert words - known == set()
