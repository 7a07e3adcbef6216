"""What is in the rack, and the tables a shop sets up once: materials, cutting rules, machines, sections."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from shopfloor.base.errors import BadInput
from shopfloor.base.roles import may, require, role_needed
from shopfloor.stock import queries
from shopfloor.stock.correct import correct_item, enter_item
from shopfloor.stock.forms import CuttingRuleForm, MachineForm, MaterialForm, SectionForm, StockItemForm
from shopfloor.stock.models import StockItem


@require_GET
@role_needed("see")
def stock_list(request: HttpRequest) -> HttpResponse:
    """What do I have, and which remnants are worth using?"""
    words = request.GET.get("q", "").strip()[:80]
    with_empty = request.GET.get("empty") == "1"
    context = {
        "here": "stock",
        "racks": queries.racks(words, with_empty=with_empty),
        "words": words,
        "with_empty": with_empty,
        "may_correct": may(request.user, "correct-stock"),
    }
    return render(request, "stock/list.html", context)


@require_http_methods(["GET", "POST"])
@role_needed("correct-stock")
def item_new(request: HttpRequest) -> HttpResponse:
    form = StockItemForm(request.POST or None, initial=_alike(request))
    key = request.POST.get("key")
    if _stored(request, form, lambda values: enter_item(values, by=request.user, key=key)):
        messages.success(request, "Entered.")
        return redirect("stock:stock-list")
    return render(request, "stock/item.html", {"here": "stock", "form": form, "item": None})


@require_http_methods(["GET", "POST"])
@role_needed("correct-stock")
def item_edit(request: HttpRequest, item_id: int) -> HttpResponse:
    found = queries.item_with_history(item_id)
    if found is None:
        raise Http404
    item, history = found
    form = StockItemForm(request.POST or None, instance=item)
    key = request.POST.get("key")
    if _stored(request, form, lambda values: correct_item(item, values, by=request.user, key=key)):
        messages.success(request, "Saved.")
        return redirect("stock:stock-list")
    return render(request, "stock/item.html", {"here": "stock", "form": form, "item": item, "history": history})


def _stored(request: HttpRequest, form: StockItemForm, verb: Callable[[dict[str, Any]], StockItem]) -> bool:
    """Whether the verb took what was said; what it refuses stands beside its field, with all that was typed kept."""
    if request.method != "POST" or not form.is_valid():
        return False
    try:
        verb(form.stated())
    except BadInput as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        return False
    return True


def _alike(request: HttpRequest) -> dict[str, Any]:
    """Starts a new item with the measures of the one it is like, since deliveries mostly are."""
    like = request.GET.get("like", "")
    item = StockItem.objects.filter(pk=like).first() if like.isdecimal() else None
    if item is None:
        return {}
    names = ("kind", "material", "thickness_mm", "section", "length_mm", "width_mm", "place")
    return {name: getattr(item, name) for name in names}


@dataclass(frozen=True)
class Table:
    """One of the tables that are set up once, with its list and its form."""

    title: str
    url: str
    form: type[forms.ModelForm]
    rows: Callable[[], QuerySet[Any]]
    template: str
    hint: str


TABLES = {
    "material": Table(
        "Materials",
        "stock:material",
        MaterialForm,
        queries.materials,
        "stock/_materials.html",
        "Cautions follow from the family and stand on the tablet with every load.",
    ),
    "rule": Table(
        "Cutting rules",
        "stock:rule",
        CuttingRuleForm,
        queries.rules,
        "stock/_rules.html",
        "Gap, margin and turns for a material at one thickness; without thickness for all others.",
    ),
    "machine": Table(
        "Machines",
        "stock:machine",
        MachineForm,
        queries.machines,
        "stock/_machines.html",
        "What each machine can take, and what its clamps need free at a sheet's edges.",
    ),
    "section": Table(
        "Sections",
        "stock:section",
        SectionForm,
        queries.sections,
        "stock/_sections.html",
        "Sections of tube, profile and bar. One that is read from a file and not known is added by itself.",
    ),
}


def _list_view(name: str) -> Callable[[HttpRequest], HttpResponse]:
    table = TABLES[name]

    @require_http_methods(["GET", "POST"])
    @role_needed("see")
    def view(request: HttpRequest) -> HttpResponse:
        return _table_page(request, table, table.form(request.POST or None), None)

    return view


def _edit_view(name: str) -> Callable[[HttpRequest, int], HttpResponse]:
    table = TABLES[name]

    @require_http_methods(["GET", "POST"])
    @role_needed("set-up-shop")
    def view(request: HttpRequest, pk: int) -> HttpResponse:
        row = get_object_or_404(table.form._meta.model, pk=pk)
        return _table_page(request, table, table.form(request.POST or None, instance=row), row)

    return view


def _table_page(request: HttpRequest, table: Table, form: forms.ModelForm, row: Any) -> HttpResponse:
    if request.method == "POST":
        require(request.user, "set-up-shop")
        if form.is_valid():
            messages.success(request, f"{form.save()} saved.")
            return redirect(f"{table.url}-list")
    context = {
        "here": "stock",
        "table": table,
        "tables": TABLES.values(),
        "rows": table.rows(),
        "form": form,
        "row": row,
        "may_set_up": may(request.user, "set-up-shop"),
    }
    return render(request, "stock/table.html", context)


material_list, material_edit = _list_view("material"), _edit_view("material")
rule_list, rule_edit = _list_view("rule"), _edit_view("rule")
machine_list, machine_edit = _list_view("machine"), _edit_view("machine")
section_list, section_edit = _list_view("section"), _edit_view("section")
