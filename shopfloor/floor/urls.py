"""Addresses of the tablet's pages, and of what the floor shows to the office."""

from django.urls import path

from shopfloor.floor import views, views_load, views_nests, views_office, views_pieces

app_name = "floor"
urlpatterns = [
    path("", views.machine_choose, name="machine-choose"),
    path("hand/", views.hand_set, name="hand-set"),
    path("machines/<int:machine_id>/", views.machine_page, name="machine-page"),
    path("machines/<int:machine_id>/use/", views.machine_use, name="machine-use"),
    path("machines/<int:machine_id>/pull/", views.load_pull_next, name="load-pull-next"),
    path("machines/<int:machine_id>/break-out/", views.break_out_list, name="break-out-list"),
    path("machines/<int:machine_id>/inspect/", views.inspect_list, name="inspect-list"),
    path("machines/<int:machine_id>/rework/", views_pieces.rework_list, name="rework-list"),
    path("machines/<int:machine_id>/ended/", views.ended_list, name="ended-list"),
    path("loads/<int:load_id>/", views_load.load_page, name="load-page"),
    path("loads/<int:load_id>/pull/", views_load.load_pull, name="load-pull"),
    path("loads/<int:load_id>/put-back/", views_load.load_put_back, name="load-put-back"),
    path("loads/<int:load_id>/centring/", views_load.load_check_centring, name="load-check-centring"),
    path("loads/<int:load_id>/cut/", views_load.load_mark_cut, name="load-mark-cut"),
    path("loads/<int:load_id>/failed/", views_load.load_mark_failed, name="load-mark-failed"),
    path("loads/<int:load_id>/undo/", views_load.load_undo, name="load-undo"),
    path("loads/<int:load_id>/cut-file/", views_load.load_cut_file, name="load-cut-file"),
    path("loads/<int:load_id>/cut-list/", views_load.load_cut_list, name="load-cut-list"),
    path("loads/<int:load_id>/break-out/", views_pieces.load_break_out, name="load-break-out"),
    path("loads/<int:load_id>/inspect/", views_pieces.load_inspect, name="load-inspect"),
    path("loads/<int:load_id>/pieces/<int:number>/rework/", views_pieces.rework_judge, name="rework-judge"),
    path("loads/<int:load_id>/card/", views_office.job_card, name="job-card"),
    path("loads/<int:load_id>/labels/", views_office.labels, name="labels"),
    path("layouts/<int:layout_id>/picture.svg", views_load.layout_picture, name="layout-picture"),
    path("orders/<int:order_id>/pieces/", views_office.order_pieces, name="order-pieces"),
    path("stuck/", views_nests.stuck, name="stuck"),
    path("nests/<int:nest_id>/release/", views_nests.nest_release, name="nest-release"),
    path("nests/<int:nest_id>/recall/", views_nests.nest_recall, name="nest-recall"),
    path("nests/<int:nest_id>/loads/", views_nests.nest_loads, name="nest-loads"),
]
