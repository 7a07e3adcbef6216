"""Addresses of planning pages."""

from django.urls import path

from shopfloor.planning import views

app_name = "planning"
urlpatterns = [
    path("waiting/", views.waiting_work, name="waiting-work"),
    path("waiting/nest/", views.nest_ask, name="nest-ask"),
    path("waiting/rule/", views.rule_edit, name="rule-edit"),
    path("nests/", views.nest_list, name="nest-list"),
    path("nests/<int:nest_id>/", views.nest_show, name="nest-show"),
    path("nests/<int:nest_id>/progress/", views.nest_progress, name="nest-progress"),
    path("nests/<int:nest_id>/cancel/", views.nest_cancel, name="nest-cancel"),
    path("nests/<int:nest_id>/take-best/", views.nest_take_best, name="nest-take-best"),
    path("nests/<int:nest_id>/throw-away/", views.nest_throw_away, name="nest-throw-away"),
    path("nests/<int:nest_id>/<int:position>/cut-file/", views.cut_file, name="cut-file"),
]
