"""The demo's 32 sheet drawings: parts of market stalls, allotment gates, bike trailers and planters, all invented."""

import math
from collections.abc import Callable
from pathlib import Path

from shopfloor.floor.demo.pencil import QUARTER, Pencil, four, on_circle, plate, rounded


def _bracket(arm: float, width: float, hole: float, *, mirrored: bool = False) -> Pencil:
    p = Pencil()
    flip = (lambda x: arm - x) if mirrored else (lambda x: x)
    corners = [(0, 0, 6), (arm, 0, 6), (arm, width, 6), (width, width, 10), (width, arm, 6), (0, arm, 6)]
    ring = [(flip(x), y, r) for x, y, r in corners]
    p.ring(rounded(ring if not mirrored else ring[::-1]))
    p.circles([(flip(arm - width / 2), width / 2), (flip(width / 2), arm - width / 2)], hole)
    p.slot(flip(arm * 0.45), width / 2, 40, hole)
    p.mark((flip(width + 4), width / 2 - 8), (flip(width + 4), width / 2 + 8))
    return p


def _gusset(leg: float, cut: float, hole: float) -> Pencil:
    p = Pencil()
    p.loose(rounded([(cut, 0, 0), (leg, 0, 8), (leg, 25, 0), (25, leg, 0), (0, leg, 8), (0, cut, 0)]))
    p.circle(leg * 0.32, leg * 0.32, hole)
    p.note(f"gusset {leg:.0f}", 5, -12)
    return p


def _flange(outside: float, bore: float, bolts: int, bolt: float) -> Pencil:
    p = Pencil()
    p.circle(outside / 2, outside / 2, outside)
    p.circle(outside / 2, outside / 2, bore)
    p.circles(on_circle(outside / 2, outside / 2, (outside + bore) / 2, bolts, 45), bolt)
    return p


def _foot(side: float, hole: float) -> Pencil:
    p = Pencil()
    p.ring(plate(side, side, 10))
    p.circles(four(side, side, 18), hole)
    p.ring([(x + side / 2 - 25, y + side / 2 - 25, b) for x, y, b in plate(50, 50, 6)])
    return p


def _strap(length: float, width: float, hole: float, count: int) -> Pencil:
    p = Pencil()
    r = width / 2
    p.loose([(r, 0, 0.0), (length - r, 0, 1.0), (length - r, width, 0.0), (r, width, 1.0)])
    step = (length - width) / (count - 1)
    p.circles([(r + k * step, r) for k in range(count)], hole)
    return p


def _hinge_leaf() -> Pencil:
    p = Pencil()
    p.ring(
        rounded(
            [(0, 0, 4), (120, 0, 20), (120, 60, 20), (0, 60, 4), (0, 42, 3), (-14, 42, 0), (-14, 18, 0), (0, 18, 3)]
        )
    )
    p.circles([(30, 15), (30, 45), (75, 30), (105, 30)], 8.5)
    return p


def _latch_keeper() -> Pencil:
    p = Pencil()
    p.ring(
        rounded([(0, 0, 5), (90, 0, 5), (90, 55, 5), (60, 55, 3), (60, 25, 8), (30, 25, 8), (30, 55, 3), (0, 55, 5)])
    )
    p.circles([(12, 12), (78, 12)], 6.5)
    return p


def _post_cap() -> Pencil:
    p = Pencil()
    notch = 12.0
    s = 84.0
    p.ring(
        [
            (notch, 0, 0.0),
            (s - notch, 0, 0.0),
            (s - notch, notch, 0.0),
            (s, notch, 0.0),
            (s, s - notch, 0.0),
            (s - notch, s - notch, 0.0),
            (s - notch, s, 0.0),
            (notch, s, 0.0),
            (notch, s - notch, 0.0),
            (0, s - notch, 0.0),
            (0, notch, 0.0),
            (notch, notch, 0.0),
        ]
    )
    p.circle(s / 2, s / 2, 6)
    return p


def _hook_plate() -> Pencil:
    p = Pencil()
    p.ring(
        [
            (0, 0, 0.0),
            (60, 0, 0.0),
            (60, 70, 1.0),
            (20, 70, 0.0),
            (20, 55, -1.0),
            (38, 55, 0.0),
            (38, 30, -QUARTER),
            (28, 20, 0.0),
            (0, 20, 0.0),
        ]
    )
    p.circle(12, 10, 7)
    return p


def _clamp() -> Pencil:
    p = Pencil()
    p.ring(
        [
            (0, 0, 0.0),
            (30, 0, 0.0),
            (54.15, 24.15, -1.0),
            (54.15 + 48.3, 24.15, 0.0),
            (126.6, 0, 0.0),
            (156.6, 0, 0.0),
            (156.6, 30, 0.0),
            (118, 66, 0.0),
            (38, 66, 0.0),
            (0, 30, 0.0),
        ]
    )
    p.circles([(15, 15), (141.6, 15)], 9)
    return p


def _drop_out() -> Pencil:
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


def _hitch_cheek() -> Pencil:
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


def _planter_panel(width: float, height: float) -> Pencil:
    p = Pencil()
    p.ring(plate(width, height, 12))
    for k in range(int(width // 110)):
        x = 75 + k * 110
        _leaf(p, x, height * 0.55, 90, 65 if k % 2 else 115)
        _leaf(p, x, height * 0.25, 60, 35 if k % 2 else 145)
    p.circles([(20, 20), (width - 20, 20), (20, height - 20), (width - 20, height - 20)], 7)
    p.mark((10, height / 2), (30, height / 2))
    return p


def _planter_bottom() -> Pencil:
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


def _trellis() -> Pencil:
    p = Pencil()
    p.ring(plate(560, 360, 8))
    for row in range(4):
        for column in range(6):
            x, y = 60 + column * 88, 58 + row * 81
            p.ring(rounded([(x, y - 30, 3), (x + 34, y, 3), (x, y + 30, 3), (x - 34, y, 3)]))
    return p


def _name_plate() -> Pencil:
    p = Pencil()
    p.space.add_ellipse((90, 45), major_axis=(90, 0), ratio=0.5, dxfattribs={"layer": "CUT"})
    p.circles([(14, 45), (166, 45)], 5)
    p.mark((40, 35), (40, 55), (52, 55), (52, 35))
    p.mark((64, 35), (64, 55), (76, 45), (88, 55), (88, 35))
    p.note("plot number is engraved", 30, -12)
    return p


def _mudguard_stay() -> Pencil:
    p = Pencil()
    p.space.add_spline([(0, 10), (60, 22), (130, 30), (200, 26), (240, 10)], dxfattribs={"layer": "CUT"})
    p.space.add_line((240, 10), (240, -6), dxfattribs={"layer": "CUT"})
    p.space.add_spline([(240, -6), (200, 10), (130, 14), (60, 6), (0, -6)], dxfattribs={"layer": "CUT"})
    p.space.add_line((0, -6), (0, 10), dxfattribs={"layer": "CUT"})
    p.circles([(10, 3), (229, 5)], 6.5)
    return p


def _lamp_bracket() -> Pencil:
    p = Pencil(units=1)
    p.ring(plate(101.6, 63.5, 6.35))
    p.circle(50.8, 31.75, 38.1)
    p.circles(four(101.6, 63.5, 9.525), 6.35)
    return p


def _grid_plate() -> Pencil:
    p = Pencil("R2000")
    p.ring(plate(420, 120, 5))
    for k in range(9):
        p.slot(42 + k * 42, 60, 70, 14, upright=True)
    return p


def _handle() -> Pencil:
    p = Pencil()
    p.ring(plate(150, 46, 23 - 0.01))
    p.slot(75, 23, 96, 22)
    return p


def _ring(outside: float, inside: float) -> Pencil:
    p = Pencil("R2018")
    p.circle(outside / 2, outside / 2, outside)
    p.circle(outside / 2, outside / 2, inside)
    return p


def _holed(width: float, height: float, radius: float, hole: float, inset: float) -> Pencil:
    p = Pencil()
    p.ring(plate(width, height, radius))
    p.circles(four(width, height, inset), hole)
    return p


SHEET_PARTS: dict[str, Callable[[], Pencil]] = {
    "stall-bracket-left": lambda: _bracket(180, 45, 9),
    "stall-bracket-right": lambda: _bracket(180, 45, 9, mirrored=True),
    "awning-hook": _hook_plate,
    "counter-gusset": lambda: _gusset(160, 14, 22),
    "stall-foot": lambda: _foot(140, 11),
    "pole-clamp": _clamp,
    "sign-plate": lambda: _holed(420, 160, 20, 6.5, 15),
    "shelf-bracket": lambda: _bracket(240, 38, 7),
    "tie-strap": lambda: _strap(320, 30, 9, 5),
    "gate-hinge-leaf": _hinge_leaf,
    "hinge-strap": lambda: _strap(260, 40, 10.5, 4),
    "latch-plate": lambda: _holed(110, 60, 8, 6.5, 12),
    "latch-keeper": _latch_keeper,
    "gate-corner-gusset": lambda: _gusset(110, 10, 16),
    "post-cap": _post_cap,
    "post-flange": lambda: _flange(180, 82, 4, 13),
    "drop-bolt-guide": lambda: _holed(70, 50, 6, 8.5, 11),
    "handle-back": _handle,
    "axle-gusset": lambda: _gusset(130, 18, 25),
    "hitch-cheek": _hitch_cheek,
    "wheel-drop-out": _drop_out,
    "mudguard-stay": _mudguard_stay,
    "lamp-bracket": _lamp_bracket,
    "floor-grid": _grid_plate,
    "tow-eye-flange": lambda: _flange(110, 42, 6, 9),
    "hub-spacer": lambda: _ring(64, 20.2),
    "planter-side": lambda: _planter_panel(800, 380),
    "planter-end": lambda: _planter_panel(380, 380),
    "planter-bottom": _planter_bottom,
    "planter-corner": lambda: _bracket(90, 30, 6.5),
    "trellis-panel": _trellis,
    "name-plate": _name_plate,
}


def write_sheet_parts(folder: Path) -> list[Path]:
    """Draws all of them into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, draw in SHEET_PARTS.items():
        path = folder / f"{name}.dxf"
        draw().save(path)
        paths.append(path)
    return paths


def write_faulty(folder: Path) -> list[Path]:
    """Two drawings as they also arrive: one with an open contour, one that does not say its unit."""
    folder.mkdir(parents=True, exist_ok=True)
    open_one = Pencil()
    open_one.space.add_lwpolyline([(0, 0), (120, 0), (120, 60), (0, 60), (0, 0.6)], dxfattribs={"layer": "CUT"})
    open_one.circle(30, 30, 12)
    unitless = Pencil("R12", units=0)
    unitless.space.add_line((0, 0), (8, 0))
    unitless.space.add_line((8, 0), (8, 4))
    unitless.space.add_line((8, 4), (0, 4))
    unitless.space.add_line((0, 4), (0, 0))
    unitless.space.add_circle((2, 2), 0.5)
    paths = [folder / "kick-plate.dxf", folder / "letter-flap.dxf"]
    open_one.save(paths[0])
    unitless.save(paths[1])
    return paths
