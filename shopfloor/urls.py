"""Addresses of the whole site; each app keeps its own."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("shopfloor.base.urls")),
    path("admin/", admin.site.urls),
    path("api/", include("shopfloor.api.urls")),
    path("", include("shopfloor.orders.urls")),
    path("", include("shopfloor.planning.urls")),
    path("parts/", include("shopfloor.parts.urls")),
    path("stock/", include("shopfloor.stock.urls")),
    path("floor/", include("shopfloor.floor.urls")),
    path("", include("shopfloor.accounts.urls")),
]
