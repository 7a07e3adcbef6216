"""Takes an order with its drawings: files in, lines out as the drawings are read, corrections while it is a draft.

Every correction is a move of the order from draft to draft: it holds the order in that state while it is carried out,
and leaves an event that tells who changed what, by whose key a repeated request is known.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.files.base import File
from django.db import IntegrityError, transaction

from shopfloor.accounts.models import User
from shopfloor.base.errors import BadInput, WrongState
from shopfloor.base.moves import as_key, earlier, move
from shopfloor.base.roles import require
from shopfloor.orders.line_checks import checked_line, checked_thickness
from shopfloor.orders.models import Customer, Order, OrderEvent, OrderFile, OrderLine, OrderState
from shopfloor.orders.order_state import ORDER
from shopfloor.parts import upload
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.stock.models import Kind, Material


def open_order(
    customer: Customer, due_on: date, *, by: User, key: object = None, reference: str = "", note: str = ""
) -> Order:
    """A new draft, or the one that the same key opened before."""
    require(by, "enter-order")
    request_key = as_key(key)
    if found := _opened_by(request_key):
        return found
    try:
        with transaction.atomic():
            order = Order.objects.create(
                customer=customer, due_on=due_on, reference=reference.strip(), note=note.strip()
            )
            OrderEvent.objects.create(order=order, key=request_key, actor=by, verb="enter", to_state=OrderState.DRAFT)
            return order
    except IntegrityError:
        # The same request twice at the same time: the one that lost finds what the other wrote.
        if found := _opened_by(request_key):
            return found
        raise


@transaction.atomic
def set_head(order: Order, customer: Customer, values: Mapping[str, Any], *, by: User) -> None:
    """Corrects customer, due date, reference and note, as long as the order is entered or in work."""
    require(by, "enter-order")
    fields = {
        "customer": customer,
        "due_on": values["due_on"],
        "reference": values["reference"].strip(),
        "note": values["note"].strip(),
    }
    rows = Order.objects.filter(pk=order.pk, state__in=(OrderState.DRAFT, OrderState.CONFIRMED))
    if rows.update(**fields) != 1:
        raise WrongState(f"{order} is no longer in work, so it cannot be corrected.")
    OrderEvent.objects.create(order=order, actor=by, verb="correct", why=f"due on {values['due_on']}")


@transaction.atomic
def fill_lines(order: Order, material: Material | None, thickness: object, *, by: User) -> None:
    """Gives material and thickness to every line of a draft that lacks them, and to those of files still being read."""
    require(by, "enter-order")
    _draft_only(order)
    usual: dict[str, object] = {}
    if material is not None:
        usual["usual_material"] = material
    if (thickness_mm := checked_thickness(thickness)) is not None:
        usual["usual_thickness_mm"] = thickness_mm
    if usual:
        Order.objects.filter(pk=order.pk).update(**usual)
        _fill_from_usual(order.pk)


def add_files(order: Order, files: Iterable[File], *, by: User, key: object = None) -> list[str]:
    """Puts the files into the draft and queues their reading; a sentence for each file that was not taken.

    One bad file does not keep the others out.
    """
    require(by, "enter-order")
    request_key = as_key(key)
    is_repeat = earlier(ORDER, order, request_key, "add-files") is not None
    held: set[tuple[str, str]] = set()
    if not is_repeat:
        _draft_only(order)
        held = set(order.files.values_list("drawing__digest", "drawing__name"))
    # Files are stored by their content, so storing them again changes nothing; and storing them before the order is
    # held keeps large uploads from holding up everybody else.
    drawings, refusals = [], []
    for file in files:
        try:
            drawing = upload.take_file(file, file.name or "drawing")
        except BadInput as refusal:
            refusals.append(str(refusal))
            continue
        # Told by content and name: one that was read again with a unit is another drawing, but the same file.
        if (drawing.digest, drawing.name) in held:
            refusals.append(
                f"{drawing.name}: this very file is in the order already. For more pieces set its quantity there."
            )
            continue
        held.add((drawing.digest, drawing.name))
        drawings.append(drawing)
    if drawings:
        _correct(
            order,
            "add-files",
            by=by,
            key=request_key,
            why=", ".join(drawing.name for drawing in drawings),
            work=lambda: _put_in(order, drawings),
        )
    return refusals


def answer(
    file: OrderFile, *, by: User, key: object = None, unit: str | None = None, join_mm: Decimal | None = None
) -> OrderFile:
    """Reads the file again with a person's answer (see `parts.upload.read_again`); its lines are made anew.

    The file keeps its row, unless the order holds it with this answer already: then that one stands for both.
    """
    require(by, "enter-order")
    request_key = as_key(key)
    if not earlier(ORDER, file.order, request_key, "answer-file"):
        _draft_only(file.order)
    drawing = upload.read_again(file.drawing, unit=unit, join_mm=join_mm)
    if drawing.pk == file.drawing_id:
        return file
    twin = OrderFile.objects.filter(order=file.order, drawing=drawing).first()

    def read_anew() -> None:
        if twin:
            file.delete()
            return
        file.lines.all().delete()
        file.drawing = drawing
        file.save(update_fields=["drawing"])
        _add_lines_where_read([drawing])

    said = f"{drawing.name}: unit {drawing.unit or 'as the file says'}, ends joined at {drawing.join_mm} mm"
    _correct(file.order, "answer-file", by=by, key=request_key, why=said, work=read_anew)
    return twin or file


def take_out(file: OrderFile, *, by: User, key: object = None) -> None:
    """Takes a file and its lines out of the draft."""
    require(by, "enter-order")
    _draft_only(file.order)
    _correct(file.order, "take-out-file", by=by, key=key, why=file.drawing.name, work=file.delete)


def set_line(line: OrderLine, values: Mapping[str, Any], *, by: User, key: object = None) -> OrderLine:
    """Changes what is stated of a line while its order is a draft: quantity, material, thickness_mm, grain, note, and
    the section that a tube part is cut from.

    Raises:
        BadInput: with the field and what it may be.
    """
    require(by, "enter-order")
    request_key = as_key(key)
    if earlier(ORDER, line.order, request_key, "set-line"):
        return line
    _draft_only(line.order)
    stated = checked_line(line, values)
    changed = [name for name, value in stated.items() if value != getattr(line, name)]
    if not changed:
        return line
    for name in changed:
        setattr(line, name, stated[name])
    said = ", ".join(f"{name.removesuffix('_mm')} {stated[name]}" for name in changed)
    _correct(
        line.order,
        "set-line",
        by=by,
        key=request_key,
        why=f"{line.part.name}: {said}",
        work=lambda: line.save(update_fields=changed),
    )
    return line


def add_lines_of(drawing: Drawing) -> None:
    """Gives every draft that holds this drawing a line for each of its parts; called when it has been read."""
    if drawing.state != DrawingState.USABLE:
        return
    for file in OrderFile.objects.filter(drawing=drawing, order__state=OrderState.DRAFT).select_related("order"):
        _add_lines(file)


def _opened_by(key: UUID) -> Order | None:
    found = OrderEvent.objects.filter(key=key).select_related("order").first()
    if found is None:
        return None
    if found.verb != "enter":
        raise BadInput("This request key was used for something else. Reload the page and try again.", "key")
    return found.order


def _correct(order: Order, verb: str, *, by: User, key: object, why: str, work: Callable[[], object]) -> None:
    """Carries out a correction of the draft once for each key, together with the event that tells of it."""

    def carry_out(_: Order) -> None:
        work()

    move(ORDER, order, verb, by=by, key=key, why=why, work=carry_out)


def _put_in(order: Order, drawings: list[Drawing]) -> None:
    for drawing in drawings:
        OrderFile.objects.get_or_create(order=order, drawing=drawing)
    _add_lines_where_read(drawings)


def _add_lines_where_read(drawings: Iterable[Drawing]) -> None:
    """Adds the lines of drawings that were read before; those of the others come when they are."""
    # Locked, in id order: a worker that ends its reading at this moment has either done so before, and we add the
    # lines, or waits for us, and then sees the new file. No key lock, since its lines point at our order.
    ids = [drawing.pk for drawing in drawings]
    current = Drawing.objects.select_for_update(no_key=True).filter(pk__in=ids).order_by("pk")
    for drawing in sorted(current, key=lambda each: ids.index(each.pk)):
        add_lines_of(drawing)


@transaction.atomic
def _add_lines(file: OrderFile) -> None:
    """Starts each line with as many as the file holds, and with what was filled in for all or what the last line said:
    those of one order are alike.
    """
    order = file.order
    material = order.usual_material
    if material is None and (last := order.lines.exclude(material=None).order_by("-pk").first()):
        material = last.material
    thickness_mm = order.usual_thickness_mm
    if thickness_mm is None and (last := order.lines.exclude(thickness_mm=None).order_by("-pk").first()):
        thickness_mm = last.thickness_mm
    for part in file.drawing.parts.all():
        is_tube = part.kind == Kind.TUBE
        OrderLine.objects.get_or_create(
            order=file.order,
            part=part,
            defaults={
                "file": file,
                "section": part.section,
                "quantity": part.times_in_file,
                "material": material,
                "thickness_mm": None if is_tube else thickness_mm,
            },
        )
    # Somebody may have filled in all lines after the order was read here, and not have seen these.
    transaction.on_commit(lambda: _fill_from_usual(order.pk))


def _fill_from_usual(order_id: int) -> None:
    order = Order.objects.get(pk=order_id)
    if order.state != OrderState.DRAFT:
        return
    if order.usual_material is not None:
        order.lines.filter(material=None).update(material=order.usual_material)
    if order.usual_thickness_mm is not None:
        sheets = order.lines.filter(thickness_mm=None, section=None, part__kind=Kind.SHEET)
        sheets.update(thickness_mm=order.usual_thickness_mm)


def _draft_only(order: Order) -> None:
    if Order.objects.values_list("state", flat=True).get(pk=order.pk) != OrderState.DRAFT:
        raise WrongState(f"{order} is no longer being entered, so it cannot be changed. Enter a new order for more.")
