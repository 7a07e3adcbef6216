"""Drawings of trailer and planter parts, with windows, blocks, curves and one in inches."""

import math

from shopfloor.floor.demo.pencil import Pencil, four, plate, rounded


def drop_out() -> Pencil:
    p = Pencil()
    p.ring(
        rounded(
            [
                (0, 0, 8),
                (38, 0, 8),
                (38, 34, 0),
                (52, 34, 0),
                (52, 0, 8),
                (90, 0, 8),
                (90, 70, 25),
                (60, 120, 12),
                (30, 120, 12),
                (0, 70, 25),
            ]
        )
    )
    p.circles([(32, 98), (58, 98)], 10.5)
    return p


def hitch_cheek() -> Pencil:
    p = Pencil()
    p.ring(rounded([(0, 0, 10), (160, 0, 10), (160, 45, 18), (95, 90, 18), (45, 90, 18), (0, 60, 10)]))
    p.circle(130, 22, 16.5)
    p.circles([(25, 20), (25, 45), (70, 20)], 10.5)
    p.slot(85, 55, 36, 12)
    return p


def _leaf(p: Pencil, x: float, y: float, length: float, turn_deg: float) -> None:
    """A leaf-shaped window: two arcs between two points."""
    a = math.radians(turn_deg)
    dx, dy = math.cos(a) * length / 2, math.sin(a) * length / 2
    p.ring([(x - dx, y - dy, 0.45), (x + dx, y + dy, 0.45)])


def planter_panel(width: float, height: float) -> Pencil:
    p = Pencil()
    p.ring(plate(width, height, 12))
    for k in range(int(width // 110)):
        x = 75 + k * 110
        _leaf(p, x, height * 0.55, 90, 65 if k % 2 else 115)
        _leaf(p, x, height * 0.25, 60, 35 if k % 2 else 145)
    p.circles([(20, 20), (width - 20, 20), (20, height - 20), (width - 20, height - 20)], 7)
    p.mark((10, height / 2), (30, height / 2))
    return p


def planter_bottom() -> Pencil:
    p = Pencil()
    p.ring(
        rounded(
            [(20, 0, 0), (380, 0, 0), (400, 20, 0), (400, 280, 0), (380, 300, 0), (20, 300, 0), (0, 280, 0), (0, 20, 0)]
        )
    )
    hole = p.document.blocks.new("DRAIN")
    hole.add_circle((0, 0), 7, dxfattribs={"layer": "CUT"})
    for row in range(3):
        for column in range(4):
            p.space.add_blockref("DRAIN", (80 + column * 80, 70 + row * 80), dxfattribs={"layer": "CUT"})
    return p


def trellis() -> Pencil:
    p = Pencil()
    p.ring(plate(560, 360, 8))
    for row in range(4):
        for column in range(6):
            x, y = 60 + column * 88, 58 + row * 81
            p.ring(rounded([(x, y - 30, 3), (x + 34, y, 3), (x, y + 30, 3), (x - 34, y, 3)]))
    return p


def name_plate() -> Pencil:
    p = Pencil()
    p.space.add_ellipse((90, 45), major_axis=(90, 0), ratio=0.5, dxfattribs={"layer": "CUT"})
    p.circles([(14, 45), (166, 45)], 5)
    p.mark((40, 35), (40, 55), (52, 55), (52, 35))
    p.mark((64, 35), (64, 55), (76, 45), (88, 55), (88, 35))
    p.note("plot number is engraved", 30, -12)
    return p


def mudguard_stay() -> Pencil:
    p = Pencil()
    p.space.add_spline([(0, 10), (60, 22), (130, 30), (200, 26), (240, 10)], dxfattribs={"layer": "CUT"})
    p.space.add_line((240, 10), (240, -6), dxfattribs={"layer": "CUT"})
    p.space.add_spline([(240, -6), (200, 10), (130, 14), (60, 6), (0, -6)], dxfattribs={"layer": "CUT"})
    p.space.add_line((0, -6), (0, 10), dxfattribs={"layer": "CUT"})
    p.circles([(10, 3), (229, 5)], 6.5)
    return p


def lamp_bracket() -> Pencil:
    p = Pencil(units=1)
    p.ring(plate(101.6, 63.5, 6.35))
    p.circle(50.8, 31.75, 38.1)
    p.circles(four(101.6, 63.5, 9.525), 6.35)
    return p


def grid_plate() -> Pencil:
    p = Pencil("R2000")
    p.ring(plate(420, 120, 5))
    for k in range(9):
        p.slot(42 + k * 42, 60, 70, 14, upright=True)
    return p
