"""The command line: `python -m nesting read | lay | check`. JSON on standard output, progress and faults on the other.

On `nesting.route`, like the server. Exit codes: 0 as wanted, 1 a nest has faults, 2 a file is refused or an
argument is wrong, 130 stopped by Ctrl-C. A fault of the caller is one sentence, never a traceback.
"""

import argparse
import json
import math
import os
import re
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NoReturn, cast

from nesting import route
from nesting.answers import bound_in_words, in_words, part_figures, summary
from nesting.errors import Cancelled, NestingError
from nesting.job_files import job_with_files
from nesting.model.nest import Nest, SheetNest
from nesting.model.part import Part
from nesting.model.reading import Reading
from nesting.records.nests import nest_from_record, nest_to_record
from nesting.records.parts import finding_to_record
from nesting.records.speeds import speeds_from_record
from nesting.records.values import Record
from nesting.units import JOIN

FAULTY, REFUSED, STOPPED = 1, 2, 130

STEEL_KG_M3 = 7850.0
"""Density of structural steel. Source: EN 1991-1-1, table A.4 (7850 kg/m³ = 77 kN/m³)."""

LARGEST_JSON = 200 * 2**20
"""Bytes. A nest of ten thousand parts is some 2 MB."""

OWN_FILES = re.compile(r"(sheet|bar)-\d+\.(dxf|svg|csv|pdf)")
"""What an earlier run left in the folder. It is taken away: an old cut file beside a new nest would be cut one day."""


OTHER_NAMES = {
    **dict.fromkeys(("in", "in.", "inch", "inches", '"'), "inch"),
    **dict.fromkeys(("ft", "foot", "feet"), "foot"),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
}
"""What people type for a unit, and what the reader calls it."""


class _Fault(Exception):
    """One sentence for standard error."""


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """Says what is wrong in one line; the usage is a `--help` away."""
        raise _Fault(f"{message}. See {self.prog} --help.")


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command and gives back its exit code."""
    try:
        arguments = _parser().parse_args(argv)
        return cast(Callable[[argparse.Namespace], int], arguments.run)(arguments)
    except _Fault as fault:
        print(f"nesting: {fault}", file=sys.stderr)
    except NestingError as fault:
        print(f"nesting: {fault}", file=sys.stderr)
    except BrokenPipeError:
        # Whoever read our output has left; nothing more can be said, and Python must not try to when it ends.
        with suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FAULTY
    except OSError as fault:
        print(f"nesting: {fault.filename or 'a file'}: {fault.strerror or fault}.", file=sys.stderr)
    except KeyboardInterrupt:
        print("nesting: stopped.", file=sys.stderr)
        return STOPPED
    return REFUSED


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="python -m nesting", description="Reads part files, lays parts on sheets and bars, checks.")
    commands = parser.add_subparsers(required=True, metavar="read, lay or check", parser_class=_Parser)
    read = commands.add_parser("read", help="say what was understood of a DXF or STEP file")
    read.add_argument("file", type=Path, metavar="FILE")
    read.add_argument(
        "--unit", type=_unit, default="", help="unit of a drawing that does not name it, such as mm or inch"
    )
    read.add_argument("--join", type=_number, default=JOIN, help=f"mm up to which loose ends are joined ({JOIN})")
    read.add_argument(
        "--density", type=_positive, default=STEEL_KG_M3, help=f"kg/m³ for masses ({STEEL_KG_M3:g}, steel)"
    )
    read.add_argument("--speeds", type=Path, metavar="SPEEDS.json", help="what the machine does, for cutting times")
    read.add_argument("--pictures", type=Path, metavar="DIR", help="folder for SVG pictures of each part")
    read.set_defaults(run=_read)
    lay = commands.add_parser("lay", help="lay the parts of a job on its sheets or bars and write the cut files")
    lay.add_argument("job", type=Path, metavar="JOB.json")
    lay.add_argument("--seconds", type=_number, default=10.0, help="time budget (10)")
    lay.add_argument(
        "--seed", type=_whole, default=0, help="same seed and job, same nest, unless time cut it short (0)"
    )
    lay.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for nest.json, cut files, pictures")
    lay.set_defaults(run=_lay)
    check = commands.add_parser("check", help="say whether a nest may be cut")
    check.add_argument("nest", type=Path, metavar="DIR/nest.json")
    check.set_defaults(run=_check)
    return parser


def _number(text: str) -> float:
    with suppress(ValueError):
        if math.isfinite(float(text)) and float(text) >= 0:
            return float(text)
    raise argparse.ArgumentTypeError(f"a number of 0 or more is needed, not {text!r}")


def _positive(text: str) -> float:
    if number := _number(text):
        return number
    raise argparse.ArgumentTypeError("a number above 0 is needed, not 0")


def _unit(text: str) -> str:
    """The unit as the reader calls it."""
    name = text.strip()
    return OTHER_NAMES.get(name.casefold(), name)


def _whole(text: str) -> int:
    with suppress(ValueError):
        if 0 <= int(text) < 2**31:
            return int(text)
    raise argparse.ArgumentTypeError(f"a whole number from 0 to {2**31 - 1} is needed, not {text!r}")


def _read(arguments: argparse.Namespace) -> int:
    speeds = speeds_from_record(_load(arguments.speeds, "speeds")) if arguments.speeds is not None else None
    reading = route.read_drawing(arguments.file, unit=arguments.unit, join=arguments.join)
    parts: list[Part] = list(reading.parts)
    _print(
        {
            "file": arguments.file.name,
            "kind": reading.kind,
            "unit": reading.unit,
            "parts": [
                part_figures(part, count, arguments.density, speeds)
                for part, count in zip(parts, reading.counts, strict=True)
            ],
            "findings": [finding_to_record(finding) for finding in reading.findings],
        }
    )
    if arguments.pictures is not None:
        _write_pictures(reading, arguments.pictures)
    for sentence in route.why_refused(reading, arguments.file.name):
        print(f"nesting: {sentence}", file=sys.stderr)
    return REFUSED if reading.kind == "refused" else 0


def _write_pictures(reading: Reading, folder: Path) -> None:
    """Pictures of each part, numbered as in the answer."""
    folder.mkdir(parents=True, exist_ok=True)
    # Of several parts no finding says which it lies on.
    findings = reading.findings if len(reading.parts) == 1 else ()
    parts: list[Part] = list(reading.parts)
    for number, part in enumerate(parts, 1):
        for name, draw in route.part_pictures(part, findings).items():
            (folder / f"part-{number:02d}-{name}.svg").write_text(draw(), encoding="utf-8")


def _lay(arguments: argparse.Namespace) -> int:
    job = job_with_files(_load(arguments.job, "job"), arguments.job.parent)
    started_at = time.monotonic()

    def report(nest: Nest) -> None:
        print(f"{time.monotonic() - started_at:7.1f} s  {in_words(nest)}", file=sys.stderr, flush=True)

    with _stop_by_keyboard() as stop:
        try:
            nest = route.lay_out(
                job,
                budget=arguments.seconds,
                seed=arguments.seed,
                on_progress=report,
                should_stop=stop.is_set,
            )
        except Cancelled as fault:
            raise KeyboardInterrupt from fault
        if faults := route.check_nest(nest):
            raise _Fault("the nest did not pass its check and was not written: " + " ".join(f.message for f in faults))
        _write(nest, arguments.out)
        for unplaced in nest.unplaced:
            print(f"not laid: {unplaced.count} of {unplaced.part}: {unplaced.reason}", file=sys.stderr)
        if nest.bound is not None:
            print(f"{in_words(nest)}; {bound_in_words(nest)}", file=sys.stderr)
        _print(summary(nest, time.monotonic() - started_at))
        return STOPPED if stop.is_set() else 0


@contextmanager
def _stop_by_keyboard() -> Iterator[threading.Event]:
    """An event that the first Ctrl-C sets, so that the best nest so far is written; the second one ends everything."""
    stop = threading.Event()
    if threading.current_thread() is not threading.main_thread():
        yield stop
        return

    def on_interrupt(_number: int, _frame: object) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    before = signal.signal(signal.SIGINT, on_interrupt)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)


def _write(nest: Nest, folder: Path) -> None:
    """Writes cut files, pictures and, when all those are there, nest.json."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "nest.json").unlink(missing_ok=True)
    for old in folder.iterdir():
        if OWN_FILES.fullmatch(old.name):
            old.unlink()
    for index in range(len(nest.layouts)):
        if isinstance(nest, SheetNest):
            stem = folder / f"sheet-{index + 1:02d}"
            stem.with_suffix(".dxf").write_bytes(route.sheet_cut_file(nest, index))
            picture = route.sheet_picture(nest, index)
        else:
            stem = folder / f"bar-{index + 1:02d}"
            stem.with_suffix(".csv").write_text(route.bar_cut_list(nest, index), encoding="utf-8", newline="")
            stem.with_suffix(".pdf").write_bytes(route.bar_cut_list_pdf(nest, index))
            if flat := route.bar_cut_file(nest, index):
                stem.with_suffix(".dxf").write_bytes(flat)
            picture = route.bar_picture(nest, index)
        stem.with_suffix(".svg").write_text(picture, encoding="utf-8")
    record = json.dumps(nest_to_record(nest), ensure_ascii=False)
    (folder / "nest.json").write_text(record + "\n", encoding="utf-8")


def _check(arguments: argparse.Namespace) -> int:
    record = _load(arguments.nest, "nest.json that lay wrote")
    if isinstance(record, dict) and "stock" in record and not {"sheets", "bars"} & set(record):
        raise _Fault(f"{arguments.nest} is a job and no nest yet. Lay it, then check the nest.json that comes of it.")
    nest = nest_from_record(record)
    faults = route.check_nest(nest)
    for fault in faults:
        print(fault.message)
    if not faults:
        print("; ".join(filter(None, (f"No fault found: {in_words(nest)}", bound_in_words(nest)))) + ".")
    return FAULTY if faults else 0


def _load(path: Path, noun: str) -> object:
    """The JSON in a file; `noun` says what is wanted.

    Raises:
        _Fault: it cannot be read as JSON.
    """
    if path.is_dir():
        raise _Fault(f"{path} is a folder. Name the {noun}.")
    if not path.is_file():
        raise _Fault(f"{path} is not there, or is no file.")
    if path.stat().st_size > LARGEST_JSON:
        raise _Fault(f"{path} has over {LARGEST_JSON // 2**20} MB, which is no job or nest of a shop.")
    try:
        return json.loads(path.read_bytes())
    except json.JSONDecodeError as fault:
        where = f"line {fault.lineno}, column {fault.colno}: {fault.msg}"
        raise _Fault(f"{path} is not JSON: {where}. Name the {noun}.") from fault
    except (ValueError, RecursionError) as fault:
        raise _Fault(f"{path} is not JSON that can be read ({type(fault).__name__}). Name the {noun}.") from fault


def _print(record: Record) -> None:
    """As JSON; letters that the terminal cannot show are written as their numbers."""
    try:
        print(json.dumps(record, ensure_ascii=False, indent=1), flush=True)
    except UnicodeEncodeError:
        print(json.dumps(record, indent=1), flush=True)


if __name__ == "__main__":
    sys.exit(main())
