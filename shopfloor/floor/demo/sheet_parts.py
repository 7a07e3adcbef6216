"""The demo's 32 sheet drawings by name, and two faulty ones as they also arrive. All invented."""

from collections.abc import Callable
from pathlib import Path

from shopfloor.floor.demo import stall_and_gate as sg
from shopfloor.floor.demo import trailer_and_planter as tp
from shopfloor.floor.demo.pencil import Pencil

SHEET_PARTS: dict[str, Callable[[], Pencil]] = {
    "stall-bracket-left": lambda: sg.bracket(180, 45, 9),
    "stall-bracket-right": lambda: sg.bracket(180, 45, 9, mirrored=True),
    "awning-hook": sg.hook_plate,
    "counter-gusset": lambda: sg.gusset(160, 14, 22),
    "stall-foot": lambda: sg.foot(140, 11),
    "pole-clamp": sg.clamp,
    "sign-plate": lambda: sg.holed(420, 160, 20, 6.5, 15),
    "shelf-bracket": lambda: sg.bracket(240, 38, 7),
    "tie-strap": lambda: sg.strap(320, 30, 9, 5),
    "gate-hinge-leaf": sg.hinge_leaf,
    "hinge-strap": lambda: sg.strap(260, 40, 10.5, 4),
    "latch-plate": lambda: sg.holed(110, 60, 8, 6.5, 12),
    "latch-keeper": sg.latch_keeper,
    "gate-corner-gusset": lambda: sg.gusset(110, 10, 16),
    "post-cap": sg.post_cap,
    "post-flange": lambda: sg.flange(180, 82, 4, 13),
    "drop-bolt-guide": lambda: sg.holed(70, 50, 6, 8.5, 11),
    "handle-back": sg.handle,
    "axle-gusset": lambda: sg.gusset(130, 18, 25),
    "hitch-cheek": tp.hitch_cheek,
    "wheel-drop-out": tp.drop_out,
    "mudguard-stay": tp.mudguard_stay,
    "lamp-bracket": tp.lamp_bracket,
    "floor-grid": tp.grid_plate,
    "tow-eye-flange": lambda: sg.flange(110, 42, 6, 9),
    "hub-spacer": lambda: sg.ring(64, 20.2),
    "planter-side": lambda: tp.planter_panel(800, 380),
    "planter-end": lambda: tp.planter_panel(380, 380),
    "planter-bottom": tp.planter_bottom,
    "planter-corner": lambda: sg.bracket(90, 30, 6.5),
    "trellis-panel": tp.trellis,
    "name-plate": tp.name_plate,
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
