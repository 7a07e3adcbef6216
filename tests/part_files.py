"""Part files for tests of the whole route, written anew in a folder of the test's own."""

import itertools
import subprocess
import sys

import ezdxf

STEP_SCRIPT = """
import sys
from pathlib import Path
from nesting.model.section import Section
from nesting.tube.step_writer import write_tubes
from nesting.tube.tube_solids import Hole, Mitre, Tube
box = Section.box(40, 40, 3, 6)
tubes = [Tube(box, 1000.0, "gate post", openings=(Hole(200.0, 11.0),))]
if sys.argv[2] == "two":
    tubes.append(Tube(box, 600.0, "gate rail", end=Mitre(45.0)))
write_tubes(Path(sys.argv[1]), tubes)
"""


def write_plate(path, *, units=4, gap=0.0):
    """A 200 x 100 plate with a round hole of 20 in its middle and a mark; `gap` leaves its outline open."""
    document = ezdxf.new("R2000", units=units)
    document.layers.add("mark")
    space = document.modelspace()
    corners = [(0, 0), (200, 0), (200, 100), (0, 100)]
    for start, end in itertools.pairwise(corners):
        space.add_line(start, end)
    space.add_line((0, 100), (0, gap))
    space.add_circle((100, 50), 10)
    space.add_line((20, 20), (60, 20), dxfattribs={"layer": "mark"})
    document.saveas(path)
    return path


def write_two_plates(path):
    """Two plates side by side, 50 x 50 and 80 x 40."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (50, 0), (50, 50), (0, 50)], close=True)
    space.add_lwpolyline([(100, 0), (180, 0), (180, 40), (100, 40)], close=True)
    document.saveas(path)
    return path


def write_tube(path, which="one"):
    """A 40 x 40 x 3 tube of 1000 mm with a hole of 11, and with `two` also a mitred one of 600 mm.

    The geometry kernel runs in a process of its own, so that the test run does not hold it.
    """
    subprocess.run([sys.executable, "-c", STEP_SCRIPT, str(path), which], check=True, timeout=120)
    return path
