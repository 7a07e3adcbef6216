"""The picture of one tube part: its side with the length, and its end with the measures of the section.

Both are to one scale, unless the part is so long that its middle is left out between two wavy lines, as drawings of
long things do. Ends and openings are not drawn: this is for parts of which no more is known than that they are there;
`svg_tube_views` draws the others.
"""

from nesting.export.svg_dimensions import across, upright
from nesting.export.svg_paths import View, measure, number, path_data, picture, point, text
from nesting.geometry.placing import placed
from nesting.model.part import TubePart
from nesting.model.section import SOLID, Section, SectionShape
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
    body += end_view(section, end_left, letter)
    lowest, right = -3.4 * letter, end_left + section.width + letter
    for line in _notes(part):
        lowest -= 1.5 * letter
        body.append(text(0.0, lowest + 0.5 * letter, letter, line, css="start quiet"))
    view = View(-letter, lowest - 0.6 * letter, max(right, 22.0 * letter), tall + letter)
    kind = "Tube" if section.is_hollow else "Bar"
    words = f"{kind}, {section}, {measure(part.length)} long. {' '.join(line + '.' for line in _notes(part))}"
    return picture("tube-picture", view, part.name, words, body, role="img")


def _notes(part: TubePart) -> list[str]:
    section = part.section
    lines = [thickness_words(section)] if section.shape not in SOLID or section.corner_radius else []
    if part.hole_count:
        lines.append(f"{part.hole_count} opening{'s' if part.hole_count > 1 else ''} in the wall, not drawn")
    if not part.square_ends:
        lines.append("ends not square, drawn plain")
    return lines


def thickness_words(section: Section) -> str:
    name = {SectionShape.ANGLE: "leg", SectionShape.TEE: "stem"}.get(section.shape, "web" if section.flange else "wall")
    said = [] if section.shape in SOLID else [f"{name} {measure(section.wall)}"]
    if section.flange:
        said.append(f"flange {measure(section.flange)}")
    if section.corner_radius:
        said.append(f"outside corner radius {measure(section.corner_radius)}")
    if section.root_radius:
        said.append(f"root radius {measure(section.root_radius)}")
    return ", ".join(said)


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
    lines = ""
    if section.shape not in SOLID:
        # Walls of hollow section are hidden; of an open profile the flange or leg below, and the flange above.
        edges = (wall, tall - wall) if section.is_hollow else (section.flange or wall, tall - section.flange)
        inside = "".join(f"M{point(a, y)}H{number(b)}" for a, b in spans for y in edges if 0.0 < y < tall)
        lines = f'<path class="hidden" d="{inside}"/>'
    if section.is_hollow and section.corner_radius > wall:
        edges = (section.corner_radius, tall - section.corner_radius)
        lines += (
            '<path class="thin" d="' + "".join(f"M{point(a, y)}H{number(b)}" for a, b in spans for y in edges) + '"/>'
        )
    if section.shape in (SectionShape.ROUND, SectionShape.ROUND_BAR):
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


def end_view(section: Section, left: Mm, letter: Mm) -> list[str]:
    """The cut across the tube with its outside measures; the shorter measure lies along the picture."""
    wide, tall = section.width, section.height
    rings = [placed(ring, left + wide / 2.0, tall / 2.0) for ring in section.outlines]
    shape = f'<g class="piece k1"><path fill-rule="evenodd" d="{path_data(rings)}"/></g>'
    if section.shape in (SectionShape.ROUND, SectionShape.ROUND_BAR):
        return [
            shape, across(left, left + wide, -2.4 * letter, letter, from_y=tall / 2.0, words="⌀ " + measure(tall))
        ]  # fmt: skip
    return [
        shape,
        across(left, left + wide, -2.4 * letter, letter, from_y=0.0),
        upright(0.0, tall, left - 1.4 * letter, letter, from_x=left),
    ]
