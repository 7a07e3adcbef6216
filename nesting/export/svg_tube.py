"""The picture of one tube part: its side with the length, and its end with the measures of the section.

Both are to one scale, unless the part is so long that its middle is left out between two wavy lines, as drawings of
long things do. The shape of ends and openings is not drawn: the part's noun holds only that they are there.
"""

from nesting.export.svg_dimensions import across, upright
from nesting.export.svg_paths import View, measure, number, path_data, picture, point, text
from nesting.geometry.contour import Contour
from nesting.model.part import TubePart
from nesting.model.section import Section, SectionShape
from nesting.units import Mm

LONGEST_SIDE = 6.0
"""Length of the drawn side over its height; longer tubes are drawn broken."""


def tube_svg(part: TubePart) -> str:
    """Side and end view with length, outside measures, wall and corner radius."""
    section = part.section
    tall = section.height
    letter = 0.24 * tall
    length = min(part.length, LONGEST_SIDE * tall)
    end_left = length + 6.0 * letter
    body = [_side(section, length, broken=part.length > length)]
    body.append(across(0.0, length, -2.4 * letter, letter, from_y=0.0, words=measure(part.length)))
    body += _end(section, end_left, letter)
    lowest, right = -3.4 * letter, end_left + section.width + letter
    for line in _notes(part):
        lowest -= 1.5 * letter
        body.append(text(0.0, lowest + 0.5 * letter, letter, line, css="start quiet"))
    view = View(-letter, lowest - 0.6 * letter, max(right, 22.0 * letter), tall + letter)
    words = f"Tube, {section}, {measure(part.length)} long. {' '.join(line + '.' for line in _notes(part))}"
    return picture("tube-picture", view, part.name, words, body, role="img")


def _notes(part: TubePart) -> list[str]:
    section = part.section
    first = f"wall {measure(section.wall)}"
    if section.corner_radius:
        first += f", outside corner radius {measure(section.corner_radius)}"
    lines = [first]
    if part.hole_count:
        lines.append(f"{part.hole_count} opening{'s' if part.hole_count > 1 else ''} in the wall, not drawn")
    if not part.square_ends:
        lines.append("ends not square, drawn plain")
    return lines


def _side(section: Section, length: Mm, *, broken: bool) -> str:
    """The tube from its wide side, front end left; the walls inside are dashed."""
    tall, wall = section.height, section.wall
    if not broken:
        outline = f"M0 0H{number(length)}V{number(-tall)}H0Z"
        drawn = f'<path d="{outline}"/>'
        spans = [(0.0, length)]
    else:
        middle, gap = length / 2.0, 0.09 * tall
        spans = [(0.0, middle - gap), (middle + gap, length)]
        left = f"M{point(middle - gap, 0)}H0V{number(-tall)}H{number(middle - gap)}{_wave(middle - gap, tall, -1)}Z"
        right = f"M{point(middle + gap, 0)}H{number(length)}V{number(-tall)}H{number(middle + gap)}"
        drawn = f'<path d="{left}"/><path d="{right}{_wave(middle + gap, tall, -1)}Z"/>'
    inside = "".join(f"M{point(a, y)}H{number(b)}" for a, b in spans for y in (wall, tall - wall))
    lines = f'<path class="hidden" d="{inside}"/>'
    if section.corner_radius > wall:
        edges = (section.corner_radius, tall - section.corner_radius)
        lines += (
            '<path class="thin" d="' + "".join(f"M{point(a, y)}H{number(b)}" for a, b in spans for y in edges) + '"/>'
        )
    if section.shape is SectionShape.ROUND:
        over = 0.15 * tall
        lines += f'<path class="axis" d="M{point(-over, tall / 2)}H{number(length + over)}"/>'
    return f'<g class="piece k1">{drawn}{lines}</g>'


def _wave(x: Mm, tall: Mm, way: int) -> str:
    """A wavy line from the top edge down to the lower one, where the middle of a long tube is left out."""
    sway = 0.16 * tall * way
    return (
        f"C{point(x + sway, tall * 0.83)} {point(x + sway, tall * 0.67)} {point(x, tall * 0.5)}"
        f"S{point(x - sway, tall * 0.17)} {point(x, 0.0)}"
    )


def _end(section: Section, left: Mm, letter: Mm) -> list[str]:
    """The cut across the tube with its outside measures; the shorter measure lies along the picture."""
    wide, tall = section.width, section.height
    if section.shape is SectionShape.ROUND:
        radius = tall / 2.0
        outer = Contour.circle(left + radius, radius, radius)
        inner = Contour.circle(left + radius, radius, radius - section.wall)
        shape = f'<g class="piece k1"><path fill-rule="evenodd" d="{path_data((outer, inner))}"/></g>'
        return [shape, across(left, left + wide, -2.4 * letter, letter, from_y=radius, words="⌀ " + measure(tall))]
    wall = section.wall
    outer = rounded_box(left, 0.0, wide, tall, section.corner_radius)
    inner = rounded_box(left + wall, wall, wide - 2.0 * wall, tall - 2.0 * wall, section.inner_radius)
    return [
        f'<g class="piece k1"><path fill-rule="evenodd" d="{path_data((outer, inner))}"/></g>',
        across(left, left + wide, -2.4 * letter, letter, from_y=0.0),
        upright(0.0, tall, left - 1.4 * letter, letter, from_x=left),
    ]


QUARTER = 2.0**0.5 - 1.0
"""The bulge of a quarter circle: the tangent of a quarter of 90 degrees."""


def rounded_box(left: Mm, bottom: Mm, width: Mm, height: Mm, radius: Mm) -> Contour:
    """An upright rectangle whose corners are quarter circles, anticlockwise."""
    radius = min(radius, width / 2.0, height / 2.0)
    if not radius:
        return Contour.rectangle(width, height, left, bottom)
    right, top = left + width, bottom + height
    corners = (
        (left + radius, bottom, 0.0),
        (right - radius, bottom, QUARTER),
        (right, bottom + radius, 0.0),
        (right, top - radius, QUARTER),
        (right - radius, top, 0.0),
        (left + radius, top, QUARTER),
        (left, top - radius, 0.0),
        (left, bottom + radius, QUARTER),
    )
    return Contour(corners)
