"""Whatever a program sends, it is answered and nothing breaks: random bodies, files and parameters.

The requests are made by a manager, so that roles keep nothing out, in a shop with something in every state. An
exception in a view is raised here by the test client, and so fails the test with its traceback.
"""

import json
import logging
import uuid

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopfloor.floor.mark import break_out, mark_cut
from shopfloor.floor.models import Load
from shopfloor.floor.pull import pull
from shopfloor.orders.models import Customer, Order, OrderFile, OrderLine
from shopfloor.parts.models import Drawing, DrawingState
from shopfloor.planning.demand import waiting_groups
from shopfloor.planning.models import Nest
from shopfloor.stock.models import CuttingRule, Machine, Material, StockItem, TubeSection
from tests.factories.orders import OrderFactory, line_of
from tests.factories.parts import DrawingFactory
from tests.factories.stock import CuttingRuleFactory, TubeSectionFactory

pytestmark = pytest.mark.slow

ROWS = {
    "customers": Customer,
    "orders": Order,
    "order-files": OrderFile,
    "order-lines": OrderLine,
    "drawings": Drawing,
    "materials": Material,
    "sections": TubeSection,
    "machines": Machine,
    "cutting-rules": CuttingRule,
    "stock": StockItem,
    "nests": Nest,
    "queues": Machine,
    "loads": Load,
}
KEYS = [str(uuid.UUID(int=n)) for n in range(3)]
ODD = ["", " ", "\0", "\ud800", "-1", "1e400", "NaN", "Infinity", "٣", "2030-02-30", "9999-12-31", "x" * 500]

odd_text = st.one_of(st.text(max_size=12), st.sampled_from(ODD))
scalar = st.one_of(
    st.none(), st.booleans(), st.integers(), st.sampled_from([10**40, 1e308, -1e-308, 0.1, 2.5]), st.floats(), odd_text
)
anything = st.one_of(
    scalar,
    st.recursive(scalar, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(odd_text, inner, max_size=3)),
)
verdicts = st.lists(
    st.fixed_dictionaries(
        {"number": st.integers(0, 3), "state": st.sampled_from(["good", "rework", "scrapped", "lost"])},
        optional={"reason": st.sampled_from(["", "dross", "tipped"])},
    ),
    max_size=3,
)
file_names = st.one_of(
    st.text(max_size=40),
    st.sampled_from(["a.dxf", "b.STEP", "../../c.dxf", '"; x="', "a" * 400 + ".dxf", ".dxf", "\r\n.dxf"]),
)
quiet = settings(deadline=None, database=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path, caplog):
    settings.MEDIA_ROOT = tmp_path
    # Hundreds of refusals are what is asked for here.
    caplog.set_level(logging.ERROR, "django.request")


@pytest.fixture
def busy_shop(shop):
    """A shop with orders, nests, loads and drawings in many states."""
    shop.sheets(on_hand=6)
    shop.bars(on_hand=2)
    CuttingRuleFactory(material=shop.material)
    TubeSectionFactory()
    for work in ((), (pull,), (pull, mark_cut), (pull, mark_cut, break_out)):
        [load] = shop.loads(shop.line(2))
        for verb in work:
            verb(load, by=shop.people.operator)
    shop.ready_nest(shop.line(2))
    nests = [shop.ask(shop.line(2)) for _ in range(2)]
    Nest.objects.filter(pk=nests[0].pk).update(state="laying")
    shop.line(3)
    shop.tube_line(2)
    line_of(OrderFactory(), quantity=2)
    for state in ("complete", "handed_over"):
        OrderFactory(state=state)
    DrawingFactory(state=DrawingState.FAILED)
    return shop


@pytest.fixture
def sensible(busy_shop):
    """For each field of a body, values that it may well have in this shop."""

    def one(model):
        return st.sampled_from(list(model.objects.values_list("pk", flat=True)))

    count, measure = st.integers(0, 5), st.sampled_from([0.5, 2, 3, 40, 60, 500, 1500])
    numbers = st.lists(st.integers(1, 3), max_size=3)
    return {
        "key": st.sampled_from(KEYS),
        "customer": one(Customer),
        "material": one(Material),
        "materials": st.lists(one(Material), max_size=2),
        "section": st.none() | one(TubeSection),
        "machine": one(Machine),
        "group": st.sampled_from([group.key.slug for group in waiting_groups()]),
        "only": st.none() | st.dictionaries(one(OrderLine).map(str), st.integers(-1, 3), max_size=2),
        "budget_s": st.integers(1, 20),
        "due_on": st.dates().map(str),
        "kind": st.sampled_from(["sheet", "tube"]),
        "shape": st.sampled_from(["square", "rectangular", "round"]),
        "family": st.sampled_from(["mild", "copper"]),
        "turns": st.sampled_from(["quarter", "any"]),
        "grain": st.sampled_from(["none", "across"]),
        "unit": st.sampled_from(["", "mm", "inch"]),
        "join_mm": st.sampled_from([0.01, 0.1]),
        "verdicts": verdicts,
        "numbers": st.none() | numbers,
        "lost": numbers,
        **dict.fromkeys(
            ("all_good", "keep_remnant", "stock_spoiled", "is_remnant", "in_use", "replace"), st.booleans()
        ),
        **dict.fromkeys(("quantity", "on_hand", "seed"), count),
        **dict.fromkeys(("height_mm", "width_mm", "wall_mm", "length_mm", "thickness_mm"), measure),
        **dict.fromkeys(("table_length_mm", "table_width_mm", "longest_bar_mm", "chuck_dead_mm"), st.none() | count),
        **dict.fromkeys(("gap_mm", "margin_mm", "corner_radius_mm", "front_trim_mm", "density_kg_m3"), count),
        **dict.fromkeys(("name", "password", "why", "note", "reference", "contact"), st.text("abc ", max_size=9)),
    }


def mostly(usual, seldom):
    return st.integers(1, 10).flatmap(lambda n: seldom if n == 7 else usual)


def fields_of(schema):
    """{operation id: the names of the fields that its body has}."""
    fields = {}
    for methods in schema["paths"].values():
        for operation in methods.values():
            for form in operation.get("requestBody", {}).get("content", {}).values():
                component = schema["components"]["schemas"].get(form["schema"].get("$ref", "").rpartition("/")[2], {})
                fields[operation["operationId"]] = sorted(component.get("properties", {}))
    return fields


def body_of(fields, sensible):
    """Bodies that say something sensible in most of their fields; and bodies that are anything at all."""
    each = {name: mostly(sensible.get(name, st.text("abc", max_size=9)), anything) for name in fields if name != "key"}
    optional = {"key": mostly(st.sampled_from(KEYS), anything)} if "key" in fields else {}
    whole = st.fixed_dictionaries(each, optional=optional)
    some = st.fixed_dictionaries({}, optional=each | optional) if each or optional else whole
    return mostly(mostly(whole, some), anything)


def test_random_bodies_are_answered(manager, busy_shop, sensible, schema, operations):
    fields = fields_of(schema)
    names = sorted(name for name, (method, _) in operations.items() if method != "get" and name != "token_destroy")
    bodies = {name: body_of(fields.get(name, []), sensible) for name in names}
    ids = {path: list(model.objects.values_list("pk", flat=True)) for path, model in ROWS.items()}
    headers = mostly(st.just({}), st.sampled_from([*KEYS, "x", ""]).map(lambda key: {"HTTP_IDEMPOTENCY_KEY": key}))
    reached = set()

    @settings(quiet, max_examples=14)
    @given(data=st.data())
    def each(name, data):
        method, path = operations[name]
        row = data.draw(mostly(st.sampled_from(ids.get(path.split("/")[1], [1])), st.sampled_from([0, 10**40])))
        path = f"/api{path.replace('/1/', f'/{row}/')}"
        body, extra = json.dumps(data.draw(bodies[name])), data.draw(headers)
        with transaction.atomic():
            answer = getattr(manager.client, method)(path, body, content_type="application/json", **extra)
            assert answer.status_code < 500
            if answer.status_code >= 400:
                assert set(answer.json()) == {"code", "message", "field"}
            else:
                reached.add(name)
            transaction.set_rollback(True)

    for name in names:
        each(name)
    # Random bodies that never get past the checks would prove little.
    assert len(reached) > len(names) / 3, sorted(set(names) - reached)


def test_random_parameters_are_answered(manager, busy_shop, sensible, schema):
    offered = {
        path.replace("{id}", "1"): names
        for path, methods in schema["paths"].items()
        if (names := [each["name"] for each in methods.get("get", {}).get("parameters", []) if each["in"] == "query"])
    }
    values = st.one_of(scalar, *(each for name, each in sorted(sensible.items()) if name != "verdicts"))
    values = values.map(lambda value: str(value).encode("utf-8", "replace").decode())

    @settings(quiet, max_examples=300)
    @given(data=st.data())
    def each(data):
        path = data.draw(st.sampled_from(sorted(offered)))
        chosen = data.draw(st.dictionaries(st.sampled_from(offered[path]), values, max_size=4))
        assert manager.client.get(path, chosen).status_code in (200, 400, 404)

    each()


def test_random_uploads_are_answered(manager, busy_shop):
    [draft] = Order.objects.filter(state="draft")

    @settings(quiet, max_examples=100)
    @given(files=st.lists(st.tuples(file_names, st.binary(max_size=200)), max_size=4))
    def each(files):
        part = b'--edge\r\nContent-Disposition: form-data; name="files"; filename="%s"\r\n\r\n%s\r\n'
        body = b"".join(part % (name.encode("utf-8", "replace"), content) for name, content in files) + b"--edge--\r\n"
        with transaction.atomic():
            path, kind = f"/api/orders/{draft.pk}/files/", "multipart/form-data; boundary=edge"
            assert manager.client.post(path, body, content_type=kind).status_code in (200, 201, 400)
            transaction.set_rollback(True)

    each()
    assert OrderFile.objects.filter(order=draft).count() == 1
