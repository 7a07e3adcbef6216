"""Addresses of planning pages."""

from django.urls import path

from shopfloor.planning import views, views_hand

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
    path("nests/<int:nest_id>/<int:position>/by-hand/", views_hand.hand_show, name="hand-show"),
    path("nests/<int:nest_id>/<int:position>/by-hand/save/", views_hand.hand_save, name="hand-save"),
    path("nests/<int:nest_id>/rival/", views_hand.rival_ask, name="rival-ask"),
    path("nests/<int:nest_id>/compare/", views_hand.nest_compare, name="nest-compare"),
    path("nests/<int:nest_id>/choose/", views_hand.rival_choose, name="rival-choose"),
    path("nests/<int:nest_id>/drop/", views_hand.rival_drop, name="rival-drop"),
    path("nests/<int:nest_id>/<int:position>/cut-file/", views.cut_file, name="cut-file"),
    path("nests/<int:nest_id>/<int:position>/flat-file/", views.flat_file, name="flat-file"),
    path("nests/<int:nest_id>/<int:position>/cut-list/", views.cut_list, name="cut-list"),
]
