"""Drawings of stall and gate parts, and of shapes that all the demo's customers order: brackets, straps, flanges."""

from shopfloor.floor.demo.pencil import QUARTER, Pencil, four, on_circle, plate, rounded


def bracket(arm: float, width: float, hole: float, *, mirrored: bool = False) -> Pencil:
    p = Pencil()
    flip = (lambda x: arm - x) if mirrored else (lambda x: x)
    corners = [(0, 0, 6), (arm, 0, 6), (arm, width, 6), (width, width, 10), (width, arm, 6), (0, arm, 6)]
    ring = [(flip(x), y, r) for x, y, r in corners]
    p.ring(rounded(ring if not mirrored else ring[::-1]))
    p.circles([(flip(arm - width / 2), width / 2), (flip(width / 2), arm - width / 2)], hole)
    p.slot(flip(arm * 0.45), width / 2, 40, hole)
    p.mark((flip(width + 4), width / 2 - 8), (flip(width + 4), width / 2 + 8))
    return p


def gusset(leg: float, cut: float, hole: float) -> Pencil:
    p = Pencil()
    p.loose(rounded([(cut, 0, 0), (leg, 0, 8), (leg, 25, 0), (25, leg, 0), (0, leg, 8), (0, cut, 0)]))
    p.circle(leg * 0.32, leg * 0.32, hole)
    p.note(f"gusset {leg:.0f}", 5, -12)
    return p


def flange(outside: float, bore: float, bolts: int, bolt: float) -> Pencil:
    p = Pencil()
    p.circle(outside / 2, outside / 2, outside)
    p.circle(outside / 2, outside / 2, bore)
    p.circles(on_circle(outside / 2, outside / 2, (outside + bore) / 2, bolts, 45), bolt)
    return p


def foot(side: float, hole: float) -> Pencil:
    p = Pencil()
    p.ring(plate(side, side, 10))
    p.circles(four(side, side, 18), hole)
    p.ring([(x + side / 2 - 25, y + side / 2 - 25, b) for x, y, b in plate(50, 50, 6)])
    return p


def strap(length: float, width: float, hole: float, count: int) -> Pencil:
    p = Pencil()
    r = width / 2
    p.loose([(r, 0, 0.0), (length - r, 0, 1.0), (length - r, width, 0.0), (r, width, 1.0)])
    step = (length - width) / (count - 1)
    p.circles([(r + k * step, r) for k in range(count)], hole)
    return p


def hinge_leaf() -> Pencil:
    p = Pencil()
    p.ring(
        rounded(
            [(0, 0, 4), (120, 0, 20), (120, 60, 20), (0, 60, 4), (0, 42, 3), (-14, 42, 0), (-14, 18, 0), (0, 18, 3)]
        )
    )
    p.circles([(30, 15), (30, 45), (75, 30), (105, 30)], 8.5)
    return p


def latch_keeper() -> Pencil:
    p = Pencil()
    p.ring(
        rounded([(0, 0, 5), (90, 0, 5), (90, 55, 5), (60, 55, 3), (60, 25, 8), (30, 25, 8), (30, 55, 3), (0, 55, 5)])
    )
    p.circles([(12, 12), (78, 12)], 6.5)
    return p


def post_cap() -> Pencil:
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


def hook_plate() -> Pencil:
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


def clamp() -> Pencil:
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


def handle() -> Pencil:
    p = Pencil()
    p.ring(plate(150, 46, 23 - 0.01))
    p.slot(75, 23, 96, 22)
    return p


def ring(outside: float, inside: float) -> Pencil:
    p = Pencil("R2018")
    p.circle(outside / 2, outside / 2, outside)
    p.circle(outside / 2, outside / 2, inside)
    return p


def holed(width: float, height: float, radius: float, hole: float, inset: float) -> Pencil:
    p = Pencil()
    p.ring(plate(width, height, radius))
    p.circles(four(width, height, inset), hole)
    return p
