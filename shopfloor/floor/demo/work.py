"""Orders of the demo shop, taken as far as each should stand, through the same verbs that pages and API call."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

from django.core.files import File
from django.core.management.base import CommandError
from django.utils import timezone

from shopfloor.accounts.models import User
from shopfloor.floor.inspection import Verdict, all_good, inspect
from shopfloor.floor.mark import break_out, mark_cut
from shopfloor.floor.models import Load, WorkpieceState
from shopfloor.floor.pull import pull
from shopfloor.floor.release import release
from shopfloor.orders import intake, order_state
from shopfloor.orders.models import Customer, Order, OrderFile
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.parts.read import read
from shopfloor.planning.demand import waiting_groups
from shopfloor.planning.models import Nest, NestState
from shopfloor.planning.request import ask_for_nest
from shopfloor.planning.run import run
from shopfloor.stock.models import Material

STEEL, GALVANISED, STAINLESS, ALUMINIUM = "Mild steel S235", "Galvanised DX51", "Stainless 1.4301", "Aluminium 5754"


@dataclass(frozen=True)
class Wanted:
    """An order: customer, reference, due in so many days, material, thickness, and files with how often each."""

    customer: str
    reference: str
    due_in: int
    material: str
    thickness: str
    files: tuple[tuple[str, int], ...]
    note: str = ""


DONE = (
    Wanted(
        "Harrow Lane Gates",
        "HL-208",
        1,
        STEEL,
        "6.00",
        (("post-flange.dxf", 8), ("gate-corner-gusset.dxf", 16), ("post-cap.dxf", 8)),
    ),
    Wanted(
        "Fennel Row Allotments",
        "plot 14",
        2,
        GALVANISED,
        "1.50",
        (("name-plate.dxf", 12), ("latch-plate.dxf", 12), ("latch-keeper.dxf", 12)),
    ),
)
"""Cut, broken out, inspected, complete; the first is handed over as well."""

CUT = (
    Wanted(
        "Saltway Market Stalls",
        "SMS 41",
        1,
        STEEL,
        "3.00",
        (("stall-bracket-left.dxf", 14), ("stall-bracket-right.dxf", 14), ("counter-gusset.dxf", 24)),
        "Deburr all edges.",
    ),
    Wanted(
        "Two Wheel Trailers",
        "TW-77",
        3,
        STEEL,
        "6.00",
        (("hitch-cheek.dxf", 10), ("wheel-drop-out.dxf", 12), ("axle-gusset.dxf", 12), ("tow-eye-flange.dxf", 6)),
    ),
    Wanted(
        "Fennel Row Allotments",
        "plot 9",
        4,
        GALVANISED,
        "1.50",
        (("sign-plate.dxf", 3), ("handle-back.dxf", 6), ("tie-strap.dxf", 12)),
    ),
)
"""Inspected, with pieces that were not good; broken out and waiting for inspection; just cut."""

TUBES = (
    Wanted(
        "Two Wheel Trailers",
        "TW-78",
        4,
        STEEL,
        "",
        (("trailer-side-rail.step", 12), ("trailer-cross-bar.step", 18), ("trailer-tow-bar.step", 6)),
    ),
    Wanted(
        "Harrow Lane Gates",
        "HL-211",
        5,
        STEEL,
        "",
        (("gate-post.step", 6), ("gate-rail.step", 12), ("gate-stile.step", 12)),
    ),
    Wanted(
        "Fennel Row Allotments",
        "gates for plots 3 to 6",
        6,
        STEEL,
        "",
        (("gate-frame.step", 4),),
        "Frames are welded on site: keep the four tubes of each together.",
    ),
)
"""Nested: one group waits at the machine, one is at the machine, one is ready and not released."""

QUEUED = Wanted(
    "Saltway Market Stalls",
    "SMS 44",
    9,
    STEEL,
    "3.00",
    (
        ("stall-foot.dxf", 20),
        ("awning-hook.dxf", 60),
        ("pole-clamp.dxf", 30),
        ("shelf-bracket.dxf", 16),
        ("tie-strap.dxf", 20),
    ),
)
"""Nested and released: its sheets wait at the machine."""

WAITING = (
    Wanted(
        "Greenlip Planters",
        "spring range",
        6,
        STAINLESS,
        "2.00",
        (("planter-side.dxf", 6), ("planter-end.dxf", 6), ("planter-bottom.dxf", 3)),
        "Brushed, film on.",
    ),
    Wanted(
        "Greenlip Planters", "corner sets", -1, STEEL, "2.00", (("planter-corner.dxf", 80), ("trellis-panel.dxf", 6))
    ),
    Wanted("Saltway Market Stalls", "poles", 8, STEEL, "", (("stall-pole.step", 16), ("stall-cross-tube.step", 24))),
    Wanted(
        "Two Wheel Trailers",
        "lamps and floors",
        12,
        ALUMINIUM,
        "3.00",
        (("lamp-bracket.dxf", 24), ("floor-grid.dxf", 12), ("mudguard-stay.dxf", 24), ("hub-spacer.dxf", 48)),
    ),
)
"""Confirmed, not nested; one is late."""

DRAFT = Wanted(
    "Fennel Row Allotments",
    "shed doors",
    14,
    STEEL,
    "2.00",
    (
        ("kick-plate.dxf", 4),
        ("letter-flap.dxf", 4),
        ("handle-back.dxf", 4),
        ("hinge-strap.dxf", 8),
        ("gate-hinge-leaf.dxf", 8),
        ("sign-plate.dxf", 1),
    ),
)
"""Being entered, with a drawing that must be corrected and one that does not say its unit."""


def enter_work(folder: Path, people: dict[str, User], say: Callable[[str], None]) -> None:
    """Enters all orders and works each as far as it should stand."""
    office, operator = people["hetty"], people["jonas"]

    say("orders that are done")
    for wanted in DONE:
        _confirmed(wanted, folder, office)
    for nest in _nest_all(office):
        for load in release(nest, by=office):
            _broken_out(load, people)
            inspect(load, all_good(load), by=people["imke"])
    first = Order.objects.order_by("pk").first()
    if first is not None:
        order_state.hand_over(first, by=office)

    say("orders at the machine")
    stages = (_inspected_with_faults, _broken_out, _cut)
    for wanted, stage in zip(CUT, stages, strict=True):
        _confirmed(wanted, folder, office)
        for load in [load for nest in _nest_all(office) for load in release(nest, by=office)]:
            stage(load, people)

    say("sheets that wait at the machine")
    _confirmed(QUEUED, folder, office)
    for nest in _nest_all(office):
        release(nest, by=office)

    say("tubes")
    for wanted in TUBES:
        _confirmed(wanted, folder, office)
    nests = _nest_all(office)
    for nest in nests[:-1]:
        waiting = release(nest, by=office)
        if nest is nests[0]:
            pull(waiting[0], by=operator)

    say("orders that wait")
    for wanted in WAITING:
        _confirmed(wanted, folder, office)
    _draft(DRAFT, folder, office)
    cancelled = _draft(
        Wanted("Harrow Lane Gates", "HL-209", 20, STEEL, "3.00", (("drop-bolt-guide.dxf", 10),)), folder, office
    )
    order_state.cancel(cancelled, by=office, why="The customer took another design.")


def _draft(wanted: Wanted, folder: Path, by: User) -> Order:
    customer = Customer.objects.get(name=wanted.customer)
    due_on = timezone.localdate() + timedelta(days=wanted.due_in)
    order = intake.open_order(customer, due_on, by=by, reference=wanted.reference, note=wanted.note)
    for name, _ in wanted.files:
        with (folder / name).open("rb") as opened:
            intake.add_files(order, [File(opened, name)], by=by)
    for pk in Drawing.objects.filter(state=DrawingState.QUEUED).values_list("pk", flat=True):
        read(pk)
    material = Material.objects.get(name=wanted.material)
    for name, quantity in wanted.files:
        for line in OrderFile.objects.get(order=order, drawing__name=name).lines.select_related("order", "part"):
            values = {"quantity": quantity * line.part.times_in_file, "material": material}
            if wanted.thickness:
                values["thickness_mm"] = Decimal(wanted.thickness)
            intake.set_line(line, values, by=by)
    return order


def _confirmed(wanted: Wanted, folder: Path, by: User) -> Order:
    order = _draft(wanted, folder, by)
    order_state.confirm(order, by=by)
    return order


def _nest_all(by: User) -> list[Nest]:
    """Nests every group that waits, in this process."""
    nests = []
    for group in waiting_groups():
        nest = ask_for_nest(group.key, by=by, budget_s=3)
        run(nest.pk)
        nest.refresh_from_db()
        if nest.state != NestState.READY:
            message = f"{nest} ({nest.group}) came to nothing: {nest.failure}"
            raise CommandError(message)
        nests.append(nest)
    return nests


def _cut(load: Load, people: dict[str, User]) -> None:
    pull(load, by=people["jonas"])
    mark_cut(load, by=people["jonas"])


def _broken_out(load: Load, people: dict[str, User]) -> None:
    _cut(load, people)
    break_out(load, by=people["jonas"])


def _inspected_with_faults(load: Load, people: dict[str, User]) -> None:
    """One piece is lost in the skeleton, two are scrapped, one can be made good; the others are good."""
    _cut(load, people)
    numbers = list(load.workpieces.order_by("number").values_list("number", flat=True))
    break_out(load, by=people["jonas"], lost=numbers[:1])
    verdicts = all_good(load)
    verdicts |= {number: Verdict(WorkpieceState.SCRAP, "lost_cut") for number in numbers[1:3]}
    verdicts |= {number: Verdict(WorkpieceState.REWORK, "dross") for number in numbers[3:4]}
    inspect(load, verdicts, by=people["imke"])
