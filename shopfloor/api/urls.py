"""Addresses of the API."""

from django.contrib.auth.decorators import login_required
from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import DefaultRouter

from shopfloor.api import accounts, floor, groups, layouts, order_lines, orders, parts, planning, setup, stock
from shopfloor.api.answers import nothing_here
from shopfloor.api.docs import DocsView, SchemaView

app_name = "api"

router = DefaultRouter(use_regex_path=False)
router.include_format_suffixes = False
for name, viewset in {
    "customers": orders.CustomerViewSet,
    "orders": orders.OrderViewSet,
    "order-files": order_lines.OrderFileViewSet,
    "order-lines": order_lines.OrderLineViewSet,
    "line-events": order_lines.LineEventViewSet,
    "drawings": parts.DrawingViewSet,
    "parts": parts.PartViewSet,
    "materials": setup.MaterialViewSet,
    "sections": setup.TubeSectionViewSet,
    "machines": setup.MachineViewSet,
    "cutting-rules": setup.CuttingRuleViewSet,
    "stock": stock.StockItemViewSet,
    "groups": groups.GroupViewSet,
    "nests": planning.NestViewSet,
    "layouts": layouts.LayoutViewSet,
    "queues": floor.QueueViewSet,
    "loads": floor.LoadViewSet,
    "floor-events": floor.FloorEventViewSet,
}.items():
    router.register(name, viewset, basename=name)

urlpatterns: list[URLPattern | URLResolver] = [
    path("me/", accounts.MeViewSet.as_view({"get": "retrieve"}), name="me"),
    path("token/", accounts.TokenViewSet.as_view({"post": "create", "delete": "destroy"}), name="token"),
    path("schema/", SchemaView.as_view(), name="schema"),
    path("docs/", login_required(DocsView.as_view()), name="docs"),
    *router.urls,
    path("<path:rest>", nothing_here, name="nothing-here"),
]
