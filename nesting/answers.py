"""What the command line answers: figures of parts and nests, as records and in words."""

from typing import cast

from nesting.model.cut_time import CutSpeeds, cut_time
from nesting.model.filled import filled_count
from nesting.model.nest import Nest, SheetNest
from nesting.model.part import Part, SheetPart
from nesting.records.nests import bound_to_record
from nesting.records.parts import cut_out_to_record, end_cut_to_record, section_to_record
from nesting.records.values import Record
from nesting.route import left_to_win
from nesting.units import Seconds


def part_figures(part: Part, count: int, density: float, speeds: CutSpeeds | None = None) -> Record:
    """Measures to a micrometre. Of tube, `bbox_mm` is length, height, width, `area_mm2` that of its section, and
    `count` how often the file holds it. With speeds, `cut_time_s` is an estimate, None where there is none.
    """
    if isinstance(part, SheetPart):
        figures: Record = {
            "name": part.name,
            "bbox_mm": [part.bounds.width, part.bounds.height],
            "area_mm2": part.area,
            "cut_length_mm": part.cut_length,
            "holes": len(part.holes),
            "pierces": part.pierce_count,
        }
    else:
        figures = {
            "name": part.name,
            "count": count,
            "bbox_mm": [part.length, part.section.height, part.section.width],
            "area_mm2": part.section.metal_area,
            "cut_length_mm": part.cut_length,
            "holes": part.hole_count,
            "pierces": part.pierce_count,
            "section": section_to_record(part.section),
            "length_mm": part.length,
            "square_ends": part.square_ends,
            "ends": [_without_paths(end_cut_to_record(end), str(end)) for end in part.ends or ()],
            "cut_outs": [_without_paths(cut_out_to_record(cut), str(cut)) for cut in part.cut_outs],
            "mass_kg": part.mass(density),
            "density_kg_m3": density,
        }
    if speeds is not None:
        figures["cut_time_s"] = cut_time(part, speeds)
    return cast(Record, _rounded(figures))


def _without_paths(cut: Record, words: str) -> Record:
    """A cut for people: its measures, and the same in words."""
    return {"words": words} | {key: value for key, value in cut.items() if key not in ("path", "contours")}


def _rounded(value: object) -> object:
    if isinstance(value, float):
        return round(value, 6)
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    return [_rounded(inner) for inner in value] if isinstance(value, list) else value


def in_words(nest: Nest) -> str:
    used = sum(layout.copies for layout in nest.layouts)
    noun = ("sheet" if isinstance(nest, SheetNest) else "bar") + ("" if used == 1 else "s")
    wanted = sum(demand.count for demand in nest.job.demands)
    filled = filled_count(nest)
    more = f" and {filled} in left-over room" if filled else ""
    proven = ", proven optimal" if nest.proven_optimal else ""
    laid = f"{nest.placed_count - filled} of {wanted} laid{more}"
    return f"{used} {noun}, {laid}, yield {100.0 * nest.yield_share:.1f} %{proven}"


def bound_in_words(nest: Nest) -> str:
    """What no nest of the job can do without, and what is left to win; "" where nothing is known."""
    if nest.bound is None:
        return ""
    count = nest.bound.count
    if len(nest.job.stock) > 1:
        least = f"costs less than {nest.bound.cost:g}"
    elif isinstance(nest, SheetNest):
        full = f"{count - 1} sheet{'' if count == 2 else 's'} and " if count > 1 else ""
        least = f"takes less than {full}{nest.bound.last:.0f} mm of {'another' if full else 'one'}"
    else:
        least = f"takes less than {count} bar{'' if count == 1 else 's'}"
    left = left_to_win(nest)
    won = "" if left is None else f"at most {100.0 * left:.1f} % of the stock used"
    won = "nothing" if nest.proven_optimal else won
    return f"no nest {least}" + (f"; {won} is left to win" if won else "")


def summary(nest: Nest, seconds: Seconds) -> Record:
    used: dict[str, int] = {}
    left = left_to_win(nest)
    for layout in nest.layouts:
        used[layout.stock] = used.get(layout.stock, 0) + layout.copies
    return {
        "kind": "sheet" if isinstance(nest, SheetNest) else "bar",
        "stock_used": sum(used.values()),
        "stock": used,
        "placed": nest.placed_count,
        "filled": filled_count(nest),
        "unplaced": sum(each.count for each in nest.unplaced),
        "yield": round(nest.yield_share, 6),
        "proven_optimal": nest.proven_optimal,
        "bound": None if nest.bound is None else bound_to_record(nest.bound),
        "left_to_win": None if left is None else round(left, 6),
        "seconds": round(seconds, 3),
    }
