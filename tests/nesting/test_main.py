import json
import math
import os
import re
import signal
import subprocess
import sys
import time
from xml.etree import ElementTree as ET

import ezdxf
import pytest

from nesting.__main__ import main
from tests.bad_files import BAD_FILES
from tests.part_files import write_plate, write_tube

GUSSET = {"name": "gusset", "count": 6, "outer": [[0, 0], [180, 0], [180, 25], [25, 180], [0, 180]]}
SHEET_JOB = {
    "kind": "sheet",
    "stock": [{"name": "1000x500", "width_mm": 1000, "height_mm": 500}],
    "rules": {"gap_mm": 5, "margin_mm": 10},
    "parts": [GUSSET | {"holes": [[[49, 40, 1], [31, 40, 1]]]}],
}
BAR_JOB = {
    "kind": "bar",
    "stock": [{"name": "6 m", "length_mm": 6000}],
    "rules": {"gap_mm": 5, "dead_end_mm": 300},
    "parts": [{"name": "post", "count": 5, "length_mm": 1234.5}],
}


@pytest.fixture
def run(capsys):
    """Runs the command line in this process: exit code, standard output, standard error."""

    def command(*arguments):
        code = main([str(argument) for argument in arguments])
        said = capsys.readouterr()
        return code, said.out, said.err

    return command


def in_a_process(*arguments, **rest):
    command = [sys.executable, "-m", "nesting", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, **rest)


def write_job(folder, job):
    path = folder / "job.json"
    path.write_text(json.dumps(job))
    return path


def one_sentence(err):
    """The single line on standard error, without its prefix."""
    (line,) = err.splitlines()
    assert line.startswith("nesting: ")
    return line.removeprefix("nesting: ")


# --- read


@pytest.mark.slow
def test_reading_a_drawing_prints_its_figures(run, tmp_path):
    code, out, err = run("read", write_plate(tmp_path / "plate.dxf"))
    answer = json.loads(out)
    assert (code, err) == (0, "")
    assert (answer["kind"], answer["unit"], answer["file"]) == ("sheet", "mm", "plate.dxf")
    (part,) = answer["parts"]
    # Source: by hand, 200 x 100 less pi x 10²; 2 (200 + 100) + 2 pi x 10.
    assert part == {
        "name": "plate",
        "bbox_mm": [200.0, 100.0],
        "area_mm2": pytest.approx(20_000 - 314.159265, abs=1e-5),
        "cut_length_mm": pytest.approx(600 + 62.831853, abs=1e-5),
        "holes": 1,
        "pierces": 2,
    }


@pytest.mark.slow
def test_reading_a_tube_prints_section_length_and_mass_and_draws_it(run, tmp_path):
    code, out, _ = run("read", write_tube(tmp_path / "post.step"), "--pictures", tmp_path / "drawn")
    assert sorted(path.stem.removeprefix("part-01-") for path in (tmp_path / "drawn").iterdir()) == [
        "sides", "slanted-0", "slanted-180", "slanted-270", "slanted-90", "unrolled"
    ]  # fmt: skip
    answer = json.loads(out)
    assert (code, answer["kind"]) == (0, "tube")
    (part,) = answer["parts"]
    assert part["section"] == {
        "shape": "square",
        "height_mm": 40.0,
        "width_mm": 40.0,
        "wall_mm": 3.0,
        "corner_radius_mm": 6.0,
    }
    assert part["length_mm"] == 1000.0
    assert part["bbox_mm"] == [1000.0, 40.0, 40.0]
    assert part["holes"] == 1
    # Source: EN 10219-2, 40 x 40 x 3: 4.21 cm² and 3.30 kg/m.
    assert part["area_mm2"] == pytest.approx(421, abs=0.5)
    assert part["mass_kg"] == pytest.approx(3.30, abs=0.01)
    assert part["density_kg_m3"] == 7850.0
    assert [end["words"] for end in part["ends"]] == ["square", "square"]
    (hole,) = part["cut_outs"]
    assert (hole["kind"], hole["diameter_mm"], hole["x_mm"]) == ("round hole", 11.0, 200.0)
    assert hole["face"] in ("top", "bottom")  # which of two like ones is up is not said by a model
    assert "contours" not in hole


@pytest.mark.slow
def test_a_cutting_time_is_told_where_speeds_are_given(run, tmp_path):
    path = write_tube(tmp_path / "leg.step")
    speeds = tmp_path / "speeds.json"
    record = {"feed_mm_min": 3000, "pierce_s": 0.5, "rapid_mm_min": 60000, "acceleration_mm_s2": 1e12}
    speeds.write_text(json.dumps(record | {"turn_deg_s": 360}))
    (told,) = json.loads(run("read", path, "--speeds", speeds)[1])["parts"]
    # Source: by hand. Each end of 40 x 40 with 6 mm corners: four sides of 28 mm at 50 mm/s, four quarter turns of a
    # quarter second. A hole of 11 mm, three pierces; a quarter turn on the way to it, then 0.8 m at 1 m/s.
    by_hand = 2 * (4 * 28 / 50 + 4 * 0.25) + 11 * math.pi / 50 + 3 * 0.5 + 0.25 + 0.8
    assert told["cut_time_s"] == pytest.approx(by_hand, abs=0.01)
    assert "cut_time_s" not in json.loads(run("read", path)[1])["parts"][0]
    speeds.write_text(json.dumps(record))
    assert json.loads(run("read", path, "--speeds", speeds)[1])["parts"][0]["cut_time_s"] is None
    speeds.write_text(json.dumps(record | {"feed_mm_min": 0}))
    code, _, said = run("read", path, "--speeds", speeds)
    assert (code, said) == (2, "nesting: speeds: CutSpeeds: feed must be above 0, not 0.0.\n")


@pytest.mark.slow
def test_another_density_gives_another_mass(run, tmp_path):
    path = write_tube(tmp_path / "post.step")
    steel = json.loads(run("read", path)[1])["parts"][0]
    light = json.loads(run("read", path, "--density", "2700")[1])["parts"][0]
    assert light["mass_kg"] == pytest.approx(steel["mass_kg"] * 2700 / 7850, rel=1e-5)
    assert light["density_kg_m3"] == 2700.0


@pytest.mark.slow
def test_a_drawing_that_raises_a_question_is_refused_until_it_is_answered(run, tmp_path):
    path = write_plate(tmp_path / "plate.dxf", units=0)
    code, out, err = run("read", path)
    answer = json.loads(out)
    assert (code, answer["kind"]) == (2, "refused")
    question = next(f for f in answer["findings"] if f["severity"] == "question")
    assert set(question) == {"code", "severity", "message", "at"}
    assert question["message"] in err
    assert run("read", path, "--unit", "mm")[0] == 0


@pytest.mark.slow
def test_a_gap_may_be_joined_up_to_what_a_person_allows(run, tmp_path):
    path = write_plate(tmp_path / "plate.dxf", gap=0.06)
    assert run("read", path)[0] == 2
    assert run("read", path, "--join", "0.1")[0] == 0


def test_a_file_that_is_not_there_is_refused(run, tmp_path):
    code, out, err = run("read", tmp_path / "lost.dxf")
    assert (code, json.loads(out)["kind"]) == (2, "refused")
    assert one_sentence(err).startswith("lost.dxf is not there")


@pytest.mark.slow
@pytest.mark.parametrize("bad", BAD_FILES.values(), ids=BAD_FILES)
def test_a_file_that_nobody_can_use_is_refused_in_one_sentence_that_names_it(run, tmp_path, bad):
    bad.write(tmp_path / bad.name)
    code, out, err = run("read", tmp_path / bad.name)
    answer = json.loads(out)
    assert (code, answer["kind"], answer["file"]) == (2, "refused", bad.name)
    blocking = [finding for finding in answer["findings"] if finding["severity"] in ("refusal", "question")]
    assert [finding["code"] for finding in blocking] == [bad.code]
    said = one_sentence(err)
    assert bad.name in said
    assert bad.words in said
    assert said.endswith(".")
    assert not re.search(r"Traceback|Error\b|Exception|None|/tmp", said)


@pytest.mark.slow
@pytest.mark.parametrize(
    "which", ["a million lines", "100 MB drawing", "zip bomb as drawing", "a billion lines in blocks"]
)
def test_reading_a_large_file_takes_little_memory_beside_the_limited_child(tmp_path, which):
    bad = BAD_FILES[which]
    bad.write(tmp_path / bad.name)
    # The soft limit holds for this process alone: the child sets its own, up to the hard one.
    script = (
        "import resource, sys\n"
        "hard = resource.getrlimit(resource.RLIMIT_AS)[1]\n"
        "resource.setrlimit(resource.RLIMIT_AS, (256 * 2**20, hard))\n"
        "from nesting.__main__ import main\n"
        "sys.exit(main(['read', sys.argv[1]]))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, tmp_path / bad.name], capture_output=True, text=True, timeout=120, check=False
    )
    assert (done.returncode, json.loads(done.stdout)["findings"][0]["code"]) == (2, bad.code), done.stderr


@pytest.mark.slow
def test_a_finding_that_does_not_name_its_file_is_told_with_it(run, tmp_path):
    code, out, err = run("read", write_plate(tmp_path / "plate.dxf", gap=5.0))
    (finding,) = (each for each in json.loads(out)["findings"] if each["severity"] == "refusal")
    assert (code, finding["code"]) == (2, "open-contour")
    assert one_sentence(err) == f"plate.dxf: {finding['message']}"


@pytest.mark.slow
def test_an_answer_that_cannot_be_is_one_sentence(run, tmp_path):
    path = write_plate(tmp_path / "plate.dxf")
    code, out, err = run("read", path, "--unit", "furlong")
    assert (code, out) == (2, "")
    assert "furlong" in one_sentence(err)


# --- arguments


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        ([], "the following arguments are required: read, lay or check"),
        (["fold"], "invalid choice: 'fold'"),
        (["read"], "the following arguments are required: FILE"),
        (["lay", "job.json"], "the following arguments are required: --out"),
        (
            ["lay", "job.json", "--out", "o", "--seconds", "soon"],
            "--seconds: a number of 0 or more is needed, not 'soon'",
        ),
        (
            ["lay", "job.json", "--out", "o", "--seconds", "nan"],
            "--seconds: a number of 0 or more is needed, not 'nan'",
        ),
        (["lay", "job.json", "--out", "o", "--seed", "1.5"], "--seed: a whole number from 0"),
        (["lay", "job.json", "--out", "o", "--seed", "-1"], "--seed: a whole number from 0"),
        (["read", "a.dxf", "--join", "-1"], "--join: a number of 0 or more is needed, not '-1'"),
        (["read", "a.dxf", "--colour"], "unrecognized arguments: --colour"),
        (["read", "a.step", "--density", "0"], "--density: a number above 0 is needed, not 0"),
        (["check", "nowhere.json"], "nowhere.json is not there"),
        (["check", "."], ". is a folder. Name the nest.json that lay wrote."),
        (["lay", ".", "--out", "o"], ". is a folder. Name the job."),
        (["lay", "nowhere.json", "--out", "o"], "nowhere.json is not there"),
    ],
)
def test_a_wrong_argument_is_one_sentence(run, arguments, sentence):
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert sentence in one_sentence(err)


def test_help_names_the_commands(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--help"])
    assert ended.value.code == 0
    said = capsys.readouterr().out
    assert all(command in said for command in ("read", "lay", "check"))


@pytest.mark.parametrize("command", ["lay", "check"])
@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "is not JSON: line 1, column 1"),
        (b'{"kind": "sheet",}', "is not JSON: line 1"),
        (b"\xff\xfe\x00garbage\x80", "is not JSON that can be read"),
        (b"[" * 100_000, "is not JSON that can be read"),
        (b"9" * 10_000, "is not JSON that can be read"),
        (b"[]", ": an object is needed, not []"),
        (b'{"kind": "boat"}', "a list is needed, but it is missing"),
    ],
)
def test_a_file_that_is_no_job_and_no_nest_is_one_sentence(run, tmp_path, command, content, sentence):
    path = tmp_path / "file.json"
    path.write_bytes(content)
    rest = ["--out", tmp_path / "out"] if command == "lay" else []
    code, out, err = run(command, path, *rest)
    assert (code, out) == (2, "")
    assert sentence in one_sentence(err)
    assert not (tmp_path / "out").exists()


def test_a_job_is_not_checked_as_if_it_were_a_nest(run, tmp_path):
    code, _, err = run("check", write_job(tmp_path, SHEET_JOB))
    assert code == 2
    assert "is a job and no nest yet" in one_sentence(err)


@pytest.mark.parametrize("unit", ["IN", '"', "inches", " inch ", "in."])
def test_a_unit_may_be_named_as_people_name_it(run, tmp_path, unit):
    code, out, _ = run("read", write_plate(tmp_path / "plate.dxf", units=0), "--unit", unit)
    assert (code, json.loads(out)["unit"]) == (0, "inch")
    # Source: by hand, 200 x 100 inches of 25.4 mm.
    assert json.loads(out)["parts"][0]["bbox_mm"] == [5080.0, 2540.0]


def test_a_malformed_job_is_refused_at_its_place(run, tmp_path):
    path = write_job(tmp_path, SHEET_JOB | {"parts": [GUSSET | {"count": 10**9}]})
    code, _, err = run("lay", path, "--out", tmp_path / "out")
    assert code == 2
    assert one_sentence(err).startswith("job.parts[0]: Demand for gusset: the count must be 0 to 1000000")


@pytest.mark.parametrize("seconds", ["0", "1e9"])
def test_a_budget_out_of_bounds_is_one_sentence(run, tmp_path, seconds):
    path = write_job(tmp_path, SHEET_JOB)
    code, _, err = run("lay", path, "--seconds", seconds, "--out", tmp_path / "out")
    assert code == 2
    assert "time budget must be above 0" in one_sentence(err)


# --- lay and check


@pytest.mark.slow
def test_a_sheet_job_is_laid_written_and_passes_its_check(run, tmp_path):
    out_folder = tmp_path / "out"
    code, out, err = run("lay", write_job(tmp_path, SHEET_JOB), "--seconds", "2", "--seed", "1", "--out", out_folder)
    assert code == 0
    summary = json.loads(out)
    assert set(summary) >= {"kind", "stock_used", "placed", "unplaced", "yield", "proven_optimal", "seconds"}
    assert summary["bound"]["count"] == 1
    assert 0.0 <= summary["left_to_win"] < 1.0
    assert (summary["kind"], summary["placed"], summary["unplaced"]) == ("sheet", 6, 0)
    assert summary["stock"] == {"1000x500": summary["stock_used"]}
    assert re.search(r"\d s  \d+ sheets?, \d of 6 laid, yield \d+\.\d %", err)
    assert sorted(path.name for path in out_folder.iterdir()) == ["nest.json", "sheet-01.dxf", "sheet-01.svg"]
    document = ezdxf.readfile(out_folder / "sheet-01.dxf")
    assert len(document.modelspace().query('*[layer=="OUTER_CONTOURS"]')) == 6
    assert ET.parse(out_folder / "sheet-01.svg").getroot().tag.endswith("svg")  # noqa: S314 - our own picture
    code, out, err = run("check", out_folder / "nest.json")
    assert (code, err) == (0, "")
    assert out.startswith("No fault found: 1 sheet, 6 of 6 laid")
    assert re.search(r"no nest takes less than \d+ mm of one; at most \d+\.\d % of the stock used is left to win", out)


@pytest.mark.slow
def test_what_fills_left_over_room_is_told_apart(run, tmp_path):
    part = {"name": "hook", "count": 2, "fill_up_to": 3, "outer": [[0, 0], [60, 0], [60, 50], [0, 50]]}
    job = {"kind": "sheet", "stock": [{"name": "s", "width_mm": 250, "height_mm": 150, "count": 1}], "parts": [part]}
    code, out, err = run("lay", write_job(tmp_path, job), "--seconds", "3", "--out", tmp_path / "out")
    summary = json.loads(out)
    assert (code, summary["placed"], summary["filled"], summary["unplaced"]) == (0, 3, 1, 0)
    assert "2 of 2 laid and 1 in left-over room" in err


@pytest.mark.slow
def test_a_bar_job_is_laid_written_and_passes_its_check(run, tmp_path):
    out_folder = tmp_path / "out"
    code, out, _ = run("lay", write_job(tmp_path, BAR_JOB), "--seconds", "2", "--out", out_folder)
    summary = json.loads(out)
    # Source: by hand, 6000 - 300 holds 4 pieces of 1234.5 with 3 gaps of 5 (4953) and not 5 (6192.5): 2 bars.
    assert (code, summary["kind"], summary["stock_used"], summary["placed"]) == (0, "bar", 2, 5)
    assert summary["yield"] == pytest.approx(5 * 1234.5 / 12000, abs=1e-6)
    names = sorted(path.name for path in out_folder.iterdir())
    assert names == [*(f"bar-0{bar}.{ending}" for bar in (1, 2) for ending in ("csv", "pdf", "svg")), "nest.json"]
    assert (out_folder / "bar-02.pdf").read_bytes().startswith(b"%PDF-")
    assert run("check", out_folder / "nest.json")[0] == 0


@pytest.mark.slow
def test_parts_come_from_files_beside_the_job(run, tmp_path):
    write_plate(tmp_path / "plate.dxf")
    path = write_job(tmp_path, SHEET_JOB | {"parts": [{"file": "plate.dxf", "count": 2}]})
    code, out, _ = run("lay", path, "--seconds", "2", "--out", tmp_path / "out")
    assert (code, json.loads(out)["placed"]) == (0, 2)
    written = json.loads((tmp_path / "out" / "nest.json").read_text())
    assert "file" not in written["parts"][0]
    assert written["parts"][0]["outer"]


@pytest.mark.slow
def test_what_could_not_be_laid_is_told_with_its_reason(run, tmp_path):
    large = {"name": "hall door", "count": 2, "outer": [[0, 0], [3000, 0], [3000, 2500], [0, 2500]]}
    path = write_job(tmp_path, SHEET_JOB | {"parts": [GUSSET, large]})
    code, out, err = run("lay", path, "--seconds", "2", "--out", tmp_path / "out")
    assert (code, json.loads(out)["unplaced"]) == (0, 2)
    assert "not laid: 2 of hall door: larger than every sheet" in err


@pytest.mark.slow
def test_cut_files_of_an_earlier_run_do_not_stay(run, tmp_path):
    out_folder = tmp_path / "out"
    out_folder.mkdir()
    for name in ("sheet-07.dxf", "bar-03.csv", "bar-03.pdf", "sheet-100.svg"):
        (out_folder / name).write_text("old")
    (out_folder / "sheet-notes.txt").write_text("mine")
    assert run("lay", write_job(tmp_path, SHEET_JOB), "--seconds", "1", "--out", out_folder)[0] == 0
    names = sorted(path.name for path in out_folder.iterdir())
    assert names == ["nest.json", "sheet-01.dxf", "sheet-01.svg", "sheet-notes.txt"]


@pytest.mark.slow
def test_a_nest_with_planted_faults_is_found_out(run, tmp_path):
    out_folder = tmp_path / "out"
    run("lay", write_job(tmp_path, SHEET_JOB), "--seconds", "1", "--out", out_folder)
    nest = json.loads((out_folder / "nest.json").read_text())
    first, second = nest["sheets"][0]["placements"][:2]
    second |= {key: first[key] for key in ("x_mm", "y_mm", "turn_deg")}
    nest["parts"][0]["count"] = 7
    (out_folder / "nest.json").write_text(json.dumps(nest))
    code, out, _ = run("check", out_folder / "nest.json")
    assert code == 1
    lines = out.splitlines()
    assert any("6 laid and 0 left out, but 7 wanted" in line for line in lines)
    assert any("Sheet 1" in line for line in lines)


def test_a_nest_that_names_what_is_not_there_is_found_out(run, tmp_path):
    nest = BAR_JOB | {"bars": [{"stock": "lost", "pieces": [{"part": "ghost", "start_mm": 0}]}]}
    code, out, _ = run("check", write_job(tmp_path, nest))
    assert code == 1
    assert "lost" in out
    assert "ghost" in out


def test_a_nest_that_fails_its_check_is_not_written(run, tmp_path, monkeypatch):
    from nesting import route
    from nesting.model.findings import Finding, Severity

    fault = Finding("overlap", Severity.REFUSAL, "Sheet 1: two parts overlap.")
    monkeypatch.setattr(route, "check_nest", lambda _nest: (fault,))
    code, out, err = run("lay", write_job(tmp_path, SHEET_JOB), "--seconds", "1", "--out", tmp_path / "out")
    assert (code, out) == (2, "")
    assert "did not pass its check and was not written: Sheet 1: two parts overlap." in err
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_written_is_one_sentence(run, tmp_path):
    (tmp_path / "out").write_text("a file, not a folder")
    code, out, err = run("lay", write_job(tmp_path, SHEET_JOB), "--seconds", "1", "--out", tmp_path / "out")
    assert (code, out) == (2, "")
    assert err.splitlines()[-1].startswith("nesting: ")


# --- as a process


@pytest.mark.slow
def test_the_command_answers_in_utf8_and_with_its_exit_code(tmp_path):
    path = write_plate(tmp_path / "Türblech ø.dxf")
    done = in_a_process("read", path)
    assert done.returncode == 0
    assert json.loads(done.stdout)["parts"][0]["name"] == "Türblech ø"


@pytest.mark.slow
def test_a_terminal_of_few_letters_gets_them_as_numbers(tmp_path):
    path = write_plate(tmp_path / "plate ø.dxf")
    done = in_a_process("read", path, env=os.environ | {"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert json.loads(done.stdout)["parts"][0]["name"] == "plate ø"


@pytest.mark.slow
def test_output_that_nobody_reads_ends_without_a_traceback(tmp_path):
    path = write_plate(tmp_path / "plate.dxf")
    command = [sys.executable, "-m", "nesting", "read", str(path)]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stdout.close()
    assert b"Traceback" not in process.stderr.read()
    process.stderr.close()
    assert process.wait(60) == 1


@pytest.mark.slow
def test_ctrl_c_keeps_the_best_nest_so_far(tmp_path):
    parts = [GUSSET | {"name": f"gusset {k}", "count": 40} for k in range(4)]
    job = write_job(tmp_path, SHEET_JOB | {"parts": parts})
    command = [sys.executable, "-m", "nesting", "lay", str(job), "--seconds", "60", "--out", str(tmp_path / "out")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        first = process.stderr.readline()
        process.send_signal(signal.SIGINT)
        started_at = time.monotonic()
        out, err = process.communicate(timeout=50)
    assert "laid" in first
    assert time.monotonic() - started_at < 40
    assert process.returncode == 130
    assert "Traceback" not in err
    assert json.loads(out)["placed"] > 0
    assert in_a_process("check", tmp_path / "out" / "nest.json").returncode == 0
