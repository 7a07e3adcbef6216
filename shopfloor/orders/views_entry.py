"""Entering an order: its head, its files as they are read, its lines, and whether it can be confirmed.

The page asks for news of all files that are being read at once, and only the cards of those that came on are drawn
anew; what a person types elsewhere is never overwritten.
Whatever changes the order sends the event `order-changed`, on which the box with what is still missing asks anew.
"""

from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import uuid5

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopfloor.base.errors import BadInput
from shopfloor.base.moves import as_key
from shopfloor.base.roles import role_needed
from shopfloor.orders import intake, order_state, queries
from shopfloor.orders.forms import FillLines, OrderHead
from shopfloor.orders.models import Customer, Grain, Order, OrderFile, OrderLine, OrderState
from shopfloor.parts import drawing_state
from shopfloor.stock.models import Material, TubeSection


@require_http_methods(["GET", "POST"])
@role_needed("enter-order")
def order_new(request: HttpRequest) -> HttpResponse:
    """Head and files of a new order in one step."""
    form = OrderHead(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        key = as_key(request.POST.get("key"))
        order = intake.open_order(
            form.customer(), data["due_on"], by=request.user, key=key, reference=data["reference"], note=data["note"]
        )
        # A key of their own for the files, made from the first: a form sent twice puts them in once and says no more.
        files, files_key = request.FILES.getlist("files"), uuid5(key, "files")
        for refusal in intake.add_files(order, files, by=request.user, key=files_key):
            messages.error(request, refusal)
        return redirect("orders:order-enter", order.pk)
    context = {"here": "orders", "form": form, "customers": Customer.objects.all()}
    return render(request, "orders/new.html", context)


@require_GET
@role_needed("enter-order")
def order_enter(request: HttpRequest, order_id: int) -> HttpResponse:
    """What was understood of the files, and what must still be said?"""
    order = get_object_or_404(Order.objects.select_related("customer"), pk=order_id)
    if order.state != OrderState.DRAFT:
        return redirect("orders:order-show", order_id)
    context = _lists() | {
        "here": "orders",
        "order": order,
        "form": OrderHead(instance=order),
        "files": (files := queries.with_sections_offered(queries.files_of(order))),
        "waits": _are_read(files),
        "faults": order_state.confirm_faults(order),
        "customers": Customer.objects.all(),
    }
    return render(request, "orders/enter.html", context)


@require_POST
@role_needed("enter-order")
def head_set(request: HttpRequest, order_id: int) -> HttpResponse:
    """Corrects customer, reference, due date and note of an order that is not finished."""
    order = get_object_or_404(Order.objects.select_related("customer"), pk=order_id)
    form = OrderHead(request.POST, instance=order)
    if not form.is_valid():
        raise BadInput(" ".join(message for messages_ in form.errors.values() for message in messages_))
    intake.set_head(order, form.customer(), form.cleaned_data, by=request.user)
    messages.success(request, f"{order}: saved.")
    return redirect("orders:order-show", order_id)


@require_POST
@role_needed("enter-order")
def files_add(request: HttpRequest, order_id: int) -> HttpResponse:
    order = get_object_or_404(Order, pk=order_id)
    before = set(order.files.values_list("pk", flat=True))
    refusals = intake.add_files(order, request.FILES.getlist("files"), by=request.user)
    if not request.htmx:
        for refusal in refusals:
            messages.error(request, refusal)
        return redirect("orders:order-enter", order_id)
    files = queries.with_sections_offered(queries.files_of(order).exclude(pk__in=before))
    context = _lists() | {"order": order, "files": files, "refusals": refusals, "waits": _are_read(files)}
    return _changed(render(request, "orders/_files_added.html", context))


@require_POST
@role_needed("enter-order")
def lines_fill(request: HttpRequest, order_id: int) -> HttpResponse:
    """Material and thickness for all lines that lack them."""
    order = get_object_or_404(Order, pk=order_id)
    form = FillLines(request.POST)
    if form.is_valid():
        intake.fill_lines(order, form.cleaned_data["material"], form.cleaned_data["thickness_mm"], by=request.user)
    return redirect("orders:order-enter", order_id)


@require_GET
@role_needed("enter-order")
def order_ready(request: HttpRequest, order_id: int) -> HttpResponse:
    """The box that confirms the order, or says what is still missing."""
    order = get_object_or_404(Order, pk=order_id)
    return render(request, "orders/_ready.html", {"order": order, "faults": order_state.confirm_faults(order)})


@require_GET
@role_needed("enter-order")
def files_news(request: HttpRequest, order_id: int) -> HttpResponse:
    """The cards of those files that came on since the page was drawn: `reading` names each with its state then."""
    order = get_object_or_404(Order, pk=order_id)
    said = [word.partition("-") for word in request.GET.getlist("reading")]
    before = {int(pk): state for pk, _, state in said if pk.isascii() and pk.isdecimal() and len(pk) < 10}
    files = queries.with_sections_offered(queries.files_of(order).filter(pk__in=before))
    news = [file for file in files if file.drawing.state != before[file.pk]]
    context = _lists() | {"order": order, "files": news, "waits": _are_read(files)}
    answer = render(request, "orders/_files_news.html", context)
    return _changed(answer) if any(file.drawing.is_settled for file in news) else answer


def _are_read(files: list[OrderFile]) -> bool:
    """Whether there will be news of one of the files."""
    return any(not file.drawing.is_settled for file in files)


@require_GET
@role_needed("enter-order")
def file_show(request: HttpRequest, file_id: int) -> HttpResponse:
    return _file_card(request, file_id)


@require_POST
@role_needed("enter-order")
def file_answer(request: HttpRequest, file_id: int) -> HttpResponse:
    """Reads the file again with the unit or the joining that a person chose."""
    file = get_object_or_404(OrderFile.objects.select_related("drawing", "order"), pk=file_id)
    try:
        join = Decimal(request.POST["join_mm"]) if "join_mm" in request.POST else None
    except InvalidOperation as fault:
        raise BadInput("Choose one of the offered joinings.", "join_mm") from fault
    new = intake.answer(file, by=request.user, unit=request.POST.get("unit"), join_mm=join)
    return _file_card(request, new.pk)


@require_POST
@role_needed("enter-order")
def file_again(request: HttpRequest, file_id: int) -> HttpResponse:
    """Reads a file again whose reading failed through no fault of its own."""
    file = get_object_or_404(OrderFile.objects.select_related("drawing"), pk=file_id)
    drawing_state.try_again(file.drawing, by=request.user, key=request.POST.get("key"))
    return _file_card(request, file_id)


@require_POST
@role_needed("enter-order")
def file_take_out(request: HttpRequest, file_id: int) -> HttpResponse:
    file = get_object_or_404(OrderFile.objects.select_related("order", "drawing"), pk=file_id)
    order_id = file.order_id
    intake.take_out(file, by=request.user, key=request.POST.get("key"))
    if request.htmx:
        return _changed(HttpResponse())
    return redirect("orders:order-enter", order_id)


@require_POST
@role_needed("enter-order")
def line_set(request: HttpRequest, line_id: int) -> HttpResponse:
    """One line as typed. The answer is a sentence: saved, or what a value may be; the fields stay as they are."""
    line = get_object_or_404(OrderLine.objects.select_related("order", "part", "material", "section"), pk=line_id)
    fault = None
    try:
        intake.set_line(line, _line_values(request), by=request.user)
    except BadInput as refusal:
        if not request.htmx:
            raise
        fault = refusal
    if not request.htmx:
        return redirect("orders:order-enter", line.order_id)
    context = {"line": line, "fault": fault, "saved": not fault}
    return _changed(render(request, "orders/_line_said.html", context, status=400 if fault else 200))


def _line_values(request: HttpRequest) -> dict[str, Any]:
    values: dict[str, Any] = {
        name: request.POST[name] for name in ("quantity", "thickness_mm", "grain", "note") if name in request.POST
    }
    if "material" in request.POST:
        chosen = request.POST["material"]
        values["material"] = Material.objects.filter(pk=chosen).first() if chosen.isdecimal() else None
    return values


@require_POST
@role_needed("enter-order")
def line_section(request: HttpRequest, line_id: int) -> HttpResponse:
    """Takes a section near the drawn one, or the drawn one again where none is named."""
    line = get_object_or_404(OrderLine.objects.select_related("order", "part__section", "section"), pk=line_id)
    chosen = request.POST.get("section", "")
    section = get_object_or_404(TubeSection, pk=int(chosen)) if chosen.isdecimal() and len(chosen) < 10 else None
    intake.set_line(line, {"section": section}, by=request.user, key=request.POST.get("key"))
    return _file_card(request, line.file_id)


def _file_card(request: HttpRequest, file_id: int) -> HttpResponse:
    file = get_object_or_404(OrderFile, pk=file_id)
    if not request.htmx:
        return redirect("orders:order-enter", file.order_id)
    [card] = queries.with_sections_offered(queries.files_of(file.order).filter(pk=file_id))
    context = _lists() | {"order": file.order, "file": card, "waits": _are_read([card])}
    answer = render(request, "orders/_file_answer.html", context)
    return _changed(answer) if card.drawing.is_settled else answer


def _changed(answer: HttpResponse) -> HttpResponse:
    """The answer, telling the page that the order changed."""
    answer["HX-Trigger"] = "order-changed"
    return answer


def _lists() -> dict[str, Any]:
    """What the selects of a line offer."""
    return {"materials": list(Material.objects.all()), "grains": Grain.choices}
