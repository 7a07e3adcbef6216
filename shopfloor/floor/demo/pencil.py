"""Draws part outlines into a DXF file the way drawing offices do: polylines with arcs, loose lines, circles, blocks.

All measures in millimetres. `outline` and `hole` write one closed polyline; `loose` breaks a ring into single LINE and
ARC entities, as many programs export them.
"""

import math
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing
from ezdxf.layouts import Modelspace
from ezdxf.math import bulge_to_arc

type Corner = tuple[float, float, float]
"""x, y and the radius that rounds this corner (0 for sharp)."""
type Bulged = tuple[float, float, float]

QUARTER = math.tan(math.pi / 8)
"""Bulge of a quarter circle."""


class Pencil:
    """One drawing sheet. `version` and `units` (DXF $INSUNITS: 4 mm, 1 inch) vary, because customers' files do."""

    def __init__(self, version: str = "R2010", units: int = 4) -> None:
        self.document: Drawing = ezdxf.new(version, units=units)
        for name, colour in (("CUT", 7), ("MARK", 3), ("NOTES", 8)):
            self.document.layers.add(name, color=colour)
        self.scale = 1.0 / 25.4 if units == 1 else 1.0

    @property
    def space(self) -> Modelspace:
        return self.document.modelspace()

    def ring(self, vertices: list[Bulged], layer: str = "CUT") -> None:
        """A closed polyline of x, y, bulge."""
        scaled = [(x * self.scale, y * self.scale, b) for x, y, b in vertices]
        self.space.add_lwpolyline(scaled, format="xyb", close=True, dxfattribs={"layer": layer})

    def loose(self, vertices: list[Bulged]) -> None:
        """The same ring as single lines and arcs."""
        ends = vertices[1:] + vertices[:1]
        for (x1, y1, bulge), (x2, y2, _) in zip(vertices, ends, strict=True):
            start, end = (x1 * self.scale, y1 * self.scale), (x2 * self.scale, y2 * self.scale)
            if bulge:
                centre, first, last, radius = bulge_to_arc(start, end, bulge)
                angles = (math.degrees(first), math.degrees(last))
                self.space.add_arc(centre, radius, *angles, dxfattribs={"layer": "CUT"})
            else:
                self.space.add_line(start, end, dxfattribs={"layer": "CUT"})

    def circle(self, x: float, y: float, diameter: float) -> None:
        place = (x * self.scale, y * self.scale)
        self.space.add_circle(place, diameter / 2 * self.scale, dxfattribs={"layer": "CUT"})

    def circles(self, places: list[tuple[float, float]], diameter: float) -> None:
        for x, y in places:
            self.circle(x, y, diameter)

    def slot(self, x: float, y: float, length: float, width: float, *, upright: bool = False) -> None:
        """A slot with round ends, `length` over all, centred at x, y."""
        half, r = length / 2 - width / 2, width / 2
        if upright:
            self.ring([(x - r, y - half, 1.0), (x + r, y - half, 0.0), (x + r, y + half, 1.0), (x - r, y + half, 0.0)])
        else:
            self.ring([(x - half, y - r, 0.0), (x + half, y - r, 1.0), (x + half, y + r, 0.0), (x - half, y + r, 1.0)])

    def mark(self, *points: tuple[float, float]) -> None:
        """A line to mark on the part, not to cut."""
        scaled = [(x * self.scale, y * self.scale) for x, y in points]
        self.space.add_lwpolyline(scaled, dxfattribs={"layer": "MARK"})

    def note(self, text: str, x: float, y: float) -> None:
        place = (x * self.scale, y * self.scale)
        self.space.add_text(text, height=5 * self.scale, dxfattribs={"layer": "NOTES"}).set_placement(place)

    def save(self, path: Path) -> None:
        # Equal drawings make equal files, so a demo loaded twice stores each file once.
        ezdxf.options.write_fixed_meta_data_for_testing = True
        self.document.saveas(path)


def rounded(corners: list[Corner]) -> list[Bulged]:
    """A ring of corners, each rounded by an arc of its radius that meets its two sides smoothly.

    Derivation: the arc touches the sides at r / tan(a/2) from the corner, a the angle between them; its bulge is
    tan((pi - a) / 4), positive at a left turn.
    """
    out: list[Bulged] = []
    count = len(corners)
    for i, (x, y, radius) in enumerate(corners):
        if not radius:
            out.append((x, y, 0.0))
            continue
        px, py, _ = corners[i - 1]
        nx, ny, _ = corners[(i + 1) % count]
        before, after = math.hypot(px - x, py - y), math.hypot(nx - x, ny - y)
        ux, uy, vx, vy = (px - x) / before, (py - y) / before, (nx - x) / after, (ny - y) / after
        angle = math.acos(max(-1.0, min(1.0, ux * vx + uy * vy)))
        reach = radius / math.tan(angle / 2)
        bulge = math.copysign(math.tan((math.pi - angle) / 4), vx * uy - vy * ux)
        out += [(x + ux * reach, y + uy * reach, bulge), (x + vx * reach, y + vy * reach, 0.0)]
    return out


def plate(width: float, height: float, radius: float = 0.0) -> list[Bulged]:
    """An upright rectangle from the origin with rounded corners."""
    return rounded([(0, 0, radius), (width, 0, radius), (width, height, radius), (0, height, radius)])


def four(width: float, height: float, inset: float) -> list[tuple[float, float]]:
    """The places of four holes, `inset` from the edges of a plate."""
    return [(inset, inset), (width - inset, inset), (width - inset, height - inset), (inset, height - inset)]


def on_circle(x: float, y: float, diameter: float, count: int, first_deg: float = 0.0) -> list[tuple[float, float]]:
    """The places of a bolt circle."""
    angles = [math.radians(first_deg + 360.0 * k / count) for k in range(count)]
    return [(x + diameter / 2 * math.cos(a), y + diameter / 2 * math.sin(a)) for a in angles]
