"""Takes an order with its drawings: files in, lines out as the drawings are read, corrections while it is a draft."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.files.base import File
from django.db import transaction

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, WrongState
from shopfloor.base.roles import require
from shopfloor.orders.models import MOST_PIECES, Customer, Grain, Order, OrderEvent, OrderFile, OrderLine, OrderState
from shopfloor.parts import upload
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.stock.models import Kind, Material


@transaction.atomic
def open_order(customer: Customer, due_on: date, *, by: User, reference: str = "", note: str = "") -> Order:
    """A new draft."""
    require(by, "enter-order")
    order = Order.objects.create(customer=customer, due_on=due_on, reference=reference.strip(), note=note.strip())
    OrderEvent.objects.create(order=order, actor=by, verb="enter", to_state=OrderState.DRAFT)
    return order


def add_files(order: Order, files: Iterable[File], *, by: User) -> list[str]:
    """Puts the files into the draft and queues their reading; a sentence for each file that was not taken.

    One bad file does not keep the others out.
    """
    require(by, "enter-order")
    _draft_only(order)
    refusals = []
    for file in files:
        try:
            drawing = upload.take_file(file, file.name or "drawing")
        except BadInput as refusal:
            refusals.append(str(refusal))
            continue
        _put_in(order, drawing)
    return refusals


def answer(file: OrderFile, *, by: User, unit: str | None = None, join_mm: Decimal | None = None) -> OrderFile:
    """Reads the file again with a person's answer (see `parts.upload.read_again`); its lines are made anew."""
    require(by, "enter-order")
    _draft_only(file.order)
    drawing = upload.read_again(file.drawing, unit=unit, join_mm=join_mm)
    if drawing.pk == file.drawing_id:
        return file
    with transaction.atomic():
        file.delete()
        return _put_in(file.order, drawing)


@transaction.atomic
def take_out(file: OrderFile, *, by: User) -> None:
    """Takes a file and its lines out of the draft."""
    require(by, "enter-order")
    _draft_only(file.order)
    file.delete()


@transaction.atomic
def set_line(line: OrderLine, values: Mapping[str, Any], *, by: User) -> OrderLine:
    """Changes what is stated of a line while its order is a draft: quantity, material, thickness_mm, grain, note.

    Raises:
        BadInput: with the field and what it may be.
    """
    require(by, "enter-order")
    _draft_only(line.order)
    changed = []
    if "quantity" in values:
        line.quantity = checked_quantity(values["quantity"])
        changed.append("quantity")
    if "material" in values:
        if values["material"] is not None and not isinstance(values["material"], Material):
            raise BadInput("Choose a material from the list.", "material")
        line.material = values["material"]
        changed.append("material")
    if "thickness_mm" in values:
        line.thickness_mm = None if line.is_tube else checked_thickness(values["thickness_mm"])
        changed.append("thickness_mm")
    if "grain" in values:
        if values["grain"] not in Grain.values:
            raise BadInput("Choose one of the offered grain directions.", "grain")
        line.grain = values["grain"]
        changed.append("grain")
    if "note" in values:
        line.note = str(values["note"])[:300]
        changed.append("note")
    line.save(update_fields=changed)
    return line


def checked_quantity(value: object) -> int:
    """A quantity as a whole number from 1 to MOST_PIECES; raises BadInput with a sentence otherwise."""
    try:
        quantity = int(str(value).strip())
    except ValueError as fault:
        raise BadInput(f"The quantity must be a whole number, not “{str(value)[:20]}”.", "quantity") from fault
    if not 1 <= quantity <= MOST_PIECES:
        raise BadInput(f"The quantity must be 1 to {MOST_PIECES:,}, not {quantity:,}.".replace(",", " "), "quantity")
    return quantity


def checked_thickness(value: object) -> Decimal | None:
    """A thickness in mm with two places, or None where nothing was said; raises BadInput otherwise."""
    if value in (None, ""):
        return None
    try:
        thickness = Decimal(str(value).strip().replace(",", "."))
    except ArithmeticError as fault:
        raise BadInput(f"The thickness must be a number in mm, not “{str(value)[:20]}”.", "thickness_mm") from fault
    if not (thickness.is_finite() and Decimal("0.05") <= thickness <= 100):
        raise BadInput("The thickness must be 0.05 to 100 mm.", "thickness_mm")
    return thickness.quantize(Decimal("0.01"))


def add_lines_of(drawing: Drawing) -> None:
    """Gives every draft that holds this drawing a line for each of its parts; called when it has been read."""
    if drawing.state != DrawingState.USABLE:
        return
    for file in OrderFile.objects.filter(drawing=drawing, order__state=OrderState.DRAFT).select_related("order"):
        _add_lines(file)


def _put_in(order: Order, drawing: Drawing) -> OrderFile:
    file, _ = OrderFile.objects.get_or_create(order=order, drawing=drawing)

    def look_again() -> None:
        drawing.refresh_from_db()
        add_lines_of(drawing)

    # After the commit: a worker that finished reading a moment before could not see the new row yet.
    transaction.on_commit(look_again)
    return file


@transaction.atomic
def _add_lines(file: OrderFile) -> None:
    """Starts each line with what the order's last line said, since the lines of one order are mostly alike."""
    last = file.order.lines.exclude(material=None).order_by("-pk").first()
    for part in file.drawing.parts.all():
        is_tube = part.kind == Kind.TUBE
        OrderLine.objects.get_or_create(
            order=file.order,
            part=part,
            defaults={
                "file": file,
                "section": part.section,
                "material": last.material if last else None,
                "thickness_mm": last.thickness_mm if last and not is_tube else None,
            },
        )


def _draft_only(order: Order) -> None:
    if Order.objects.values_list("state", flat=True).get(pk=order.pk) != OrderState.DRAFT:
        raise WrongState(f"{order} is no longer being entered, so it cannot be changed. Enter a new order for more.")
