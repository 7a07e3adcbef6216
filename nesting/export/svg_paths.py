"""Shapes, numbers and names as SVG text, and the frame that every picture stands in.

Pictures are in millimetres. SVG's y runs downwards, so every y is written with its sign changed and the `viewBox`
starts at minus the top; nothing is mirrored, and text stands upright. Arcs are written as arcs. Numbers are rounded to
a micrometre, which no screen or printer shows and which keeps a picture of thousands of pieces small.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

from nesting.export.svg_style import STYLE
from nesting.geometry.arcs import FLAT, arc_angle, arc_circle
from nesting.geometry.contour import Bounds, Contour, Path
from nesting.units import Mm, Point

SHORTEST_HATCH = 0.01
"""A line of hatching shorter than this part of its step is a speck in a corner, and is left out."""

WIDEST_ARC = 2.0 * math.pi / 3.0
"""Radians of the widest single arc: a rounded end moves its centre by less than twice the rounding."""

THIN_SPACE = "\u202f"
"""Parts the thousands of a measure; it does not break over lines."""


def number(value: float) -> str:
    """The value to three places, without what says nothing: 12, 0.5, -3.142."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def measure(value: Mm) -> str:
    """A length for people: to a tenth, thousands set apart, with its unit."""
    text = f"{value:,.1f}".removesuffix(".0").replace(",", THIN_SPACE)
    return f"{'0' if text == '-0' else text}{THIN_SPACE}mm"


def escaped(text: str) -> str:
    """The text as content or attribute value; what XML 1.0 cannot hold becomes the replacement character.

    Source: W3C, Extensible Markup Language (XML) 1.0, fifth edition, production 2 (Char).
    """
    return escape("".join(letter if _is_xml(ord(letter)) else "\ufffd" for letter in text))


def _is_xml(code: int) -> bool:
    return code in (0x9, 0xA, 0xD) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000


def point(x: Mm, y: Mm) -> str:
    return f"{number(x)} {number(-y)}"


def path_data(paths: Iterable[Path]) -> str:
    """The `d` of one path element for all the runs and rings."""
    return "".join(_run(path) for path in paths)


def _arc(start: Point, end: Point, bulge: float) -> str:
    """An arc in steps of a third of a turn at most.

    SVG finds the centre from the ends, and of half a circle and more a rounded end would throw it far off.
    """
    (cx, cy), radius = arc_circle(start, end, bulge)
    sweep = arc_angle(bulge)
    count = math.ceil(abs(sweep) / WIDEST_ARC)
    first = math.atan2(start[1] - cy, start[0] - cx)
    angles = [first + sweep * k / count for k in range(1, count)]
    stops = [*((cx + radius * math.cos(angle), cy + radius * math.sin(angle)) for angle in angles), end]
    # Upside down, the anticlockwise arc of a positive bulge runs against SVG's positive direction.
    head = f"A{number(radius)} {number(radius)} 0 0 {int(bulge < 0.0)} "
    return "".join(head + point(*stop) for stop in stops)


def _run(path: Path) -> str:
    is_ring = isinstance(path, Contour)
    x, y, bulge = path.vertices[0]
    steps = [f"M{point(x, y)}"]
    ends = path.vertices[1:] + path.vertices[:1] if is_ring else path.vertices[1:]
    for next_x, next_y, next_bulge in ends:
        start, end = (x, y), (next_x, next_y)
        if abs(bulge) >= FLAT and start != end:
            steps.append(_arc(start, end, bulge))
        else:
            steps.append(f"L{point(next_x, next_y)}")
        x, y, bulge = next_x, next_y, next_bulge
    if is_ring:
        if steps[-1].startswith("L"):
            steps.pop()
        steps.append("Z")
    return "".join(steps)


@dataclass(frozen=True)
class View:
    """What a picture shows, in millimetres with y upwards."""

    left: Mm
    bottom: Mm
    right: Mm
    top: Mm

    @classmethod
    def around(cls, bounds: Bounds, left: Mm, bottom: Mm, right: Mm, top: Mm) -> "View":
        """The bounds with so much room on each side."""
        return cls(bounds.left - left, bounds.bottom - bottom, bounds.right + right, bounds.top + top)

    @property
    def box(self) -> str:
        """The value of `viewBox`."""
        values = (self.left, -self.top, self.right - self.left, self.top - self.bottom)
        return " ".join(number(value) for value in values)


def text(x: Mm, y: Mm, size: Mm, words: str, *, css: str = "", turn: float = 0.0) -> str:
    """One line of text whose middle stands at (x, y); `turn` is anticlockwise."""
    # Capitals and figures are about 0.72 of the font size tall, so half of that puts their middle on y.
    style = f' class="{css}"' if css else ""
    down = number(-y + 0.36 * size) if not turn else number(-y)
    place = f'x="{number(x)}" y="{down}"'
    if turn:
        place = f'transform="translate({point(x, y)})rotate({number(-turn)})" y="{number(0.36 * size)}"'
    return f'<text{style} {place} font-size="{number(size)}">{escaped(words)}</text>'


def text_width(words: str, size: Mm) -> Mm:
    """About how wide a line is, on the wide side for most fonts."""
    return len(words) * 0.58 * size


def hatching(left: Mm, bottom: Mm, right: Mm, top: Mm, step: Mm) -> str:
    """The `d` of slanted lines over an upright rectangle."""
    lines = []
    height = top - bottom
    for k in range(1, math.ceil((right - left + height) / step)):
        # The line rises to the right at 45 degrees and leaves the left edge or the floor at `foot`.
        foot = left - height + k * step
        start, end = max(foot, left), min(foot + height, right)
        if end - start > SHORTEST_HATCH * step:
            lines.append(f"M{point(start, bottom + start - foot)}L{point(end, bottom + end - foot)}")
    return "".join(lines)


def picture(kind: str, view: View, title: str, description: str, body: Iterable[str], *, role: str = "group") -> str:
    """The whole SVG. `kind` is a class name; title and description are for screen readers and are escaped here."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="picture {kind}" viewBox="{view.box}" role="{role}" '
        f'aria-label="{escaped(title)}"><title>{escaped(title)}</title><desc>{escaped(description)}</desc>'
        f"<style>{STYLE}</style>{''.join(body)}</svg>\n"
    )
