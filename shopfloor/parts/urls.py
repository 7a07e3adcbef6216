"""Addresses of the pages of parts."""

from django.urls import path

from shopfloor.parts import views

app_name = "parts"
urlpatterns = [
    path("<int:part_id>/", views.part_show, name="part-show"),
    path("<int:part_id>/pictures/<slug:name>.svg", views.part_picture, name="part-picture"),
]
