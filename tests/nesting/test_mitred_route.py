"""Mitred tubes from STEP models to checked bars, by the command line."""

import csv
import json
import subprocess
import sys

import ezdxf
import pytest

from nesting.__main__ import main

pytestmark = pytest.mark.slow

WRITE = """
import sys
from pathlib import Path
from nesting.model.section import Section
from nesting.tube.step_writer import write_tubes
from nesting.tube.tube_solids import Mitre, Placement, Tube
box = Section.box(40, 40, 3, 6)
here = Placement((1, 2, 3), 77, (40, -900, 3))
side = Tube(box, 800.0, "side", start=Mitre(45.0, 90.0), end=Mitre(45.0, 90.0), placement=here)
strut = Tube(box, 500.0, "strut", start=Mitre(45.0, 0.0), end=Mitre(45.0, 180.0))
write_tubes(Path(sys.argv[1]) / "side.step", [side])
write_tubes(Path(sys.argv[1]) / "strut.step", [strut])
"""


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    folder = tmp_path_factory.mktemp("frame")
    subprocess.run([sys.executable, "-c", WRITE, str(folder)], check=True, timeout=120)
    # Source: by hand. 10 trimmed, seven sides and six struts with twelve joints of 5 - 40 mm, 250 held: a bar of just
    # that length does, for all thirteen mitres are alike.
    long = 10 + 7 * 800 + 6 * 500 - 12 * 35 + 250
    job = {
        "kind": "bar",
        "stock": [{"name": "bar", "length_mm": long}],
        "rules": {"gap_mm": 5, "dead_end_mm": 250, "lead_end_mm": 10},
        "parts": [{"file": "side.step", "count": 7}, {"file": "strut.step", "count": 6}],
    }
    (folder / "job.json").write_text(json.dumps(job))
    code = main(["lay", str(folder / "job.json"), "--seconds", "20", "--out", str(folder / "out")])
    assert code == 0
    return folder / "out"


def test_a_frame_of_mitred_tubes_fills_its_bar(laid, capsys):
    nest = json.loads((laid / "nest.json").read_text())
    (bar,) = nest["bars"]
    assert (bar["copies"], len(bar["pieces"]), nest["proven_optimal"]) == (1, 13, True)
    assert any(piece["turn_deg"] for piece in bar["pieces"])
    assert main(["check", str(laid / "nest.json")]) == 0
    assert "No fault found" in capsys.readouterr().out


def test_its_files_tell_how_each_piece_lies(laid):
    pieces = json.loads((laid / "nest.json").read_text())["bars"][0]["pieces"]
    with (laid / "bar-01.csv").open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["what"] == "piece"]
    for row, piece in zip(rows, pieces, strict=True):
        assert float(row["start_mm"]) == pytest.approx(piece["start_mm"], abs=1e-3)
        assert ("end for end" in row["lies"]) is piece["flipped"]
        assert ("turned" in row["lies"]) is (piece["turn_deg"] != 0)
        assert row["start_cut"].startswith("mitre 45°, long point at the ")
    drawn = ezdxf.readfile(laid / "bar-01.dxf").modelspace().query('*[layer=="END_CUTS"]')
    starts = [min(x for x, *_ in cut.get_points()) for cut in drawn][::2]
    assert starts == pytest.approx([piece["start_mm"] for piece in pieces], abs=0.02)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda piece: piece | {"start_mm": piece["start_mm"] - 0.1}, "the gap is 5 mm"),
        (lambda piece: piece | {"turn_deg": (piece["turn_deg"] + 180) % 360}, "before strut ends at 2835.00 mm"),
        (lambda piece: piece | {"turn_deg": 45}, "does not lie on itself"),
    ],
)
def test_a_piece_moved_or_turned_by_hand_is_found(laid, tmp_path, capsys, change, words):
    nest = json.loads((laid / "nest.json").read_text())
    nest["bars"][0]["pieces"][6] = change(nest["bars"][0]["pieces"][6])
    (tmp_path / "nest.json").write_text(json.dumps(nest))
    assert main(["check", str(tmp_path / "nest.json")]) == 1
    assert words in capsys.readouterr().out
