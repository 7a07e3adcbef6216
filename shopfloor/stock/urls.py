"""Addresses of stock pages."""

from django.urls import path

from shopfloor.stock import views

app_name = "stock"
urlpatterns = [
    path("", views.stock_list, name="stock-list"),
    path("new/", views.item_new, name="item-new"),
    path("<int:item_id>/", views.item_edit, name="item-edit"),
    path("materials/", views.material_list, name="material-list"),
    path("materials/<int:pk>/", views.material_edit, name="material-edit"),
    path("rules/", views.rule_list, name="rule-list"),
    path("rules/<int:pk>/", views.rule_edit, name="rule-edit"),
    path("machines/", views.machine_list, name="machine-list"),
    path("machines/<int:pk>/", views.machine_edit, name="machine-edit"),
    path("sections/", views.section_list, name="section-list"),
    path("sections/<int:pk>/", views.section_edit, name="section-edit"),
]
