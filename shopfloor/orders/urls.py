"""Addresses of order pages."""

from django.urls import path

from shopfloor.orders import views, views_entry

app_name = "orders"
urlpatterns = [
    path("", views.order_board, name="order-board"),
    path("orders/new/", views_entry.order_new, name="order-new"),
    path("orders/<int:order_id>/", views.order_show, name="order-show"),
    path("orders/<int:order_id>/history/", views.order_history, name="order-history"),
    path("orders/<int:order_id>/enter/", views_entry.order_enter, name="order-enter"),
    path("orders/<int:order_id>/head/", views_entry.head_set, name="head-set"),
    path("orders/<int:order_id>/files/", views_entry.files_add, name="files-add"),
    path("orders/<int:order_id>/files/news/", views_entry.files_news, name="files-news"),
    path("orders/<int:order_id>/fill/", views_entry.lines_fill, name="lines-fill"),
    path("orders/<int:order_id>/ready/", views_entry.order_ready, name="order-ready"),
    path("orders/<int:order_id>/confirm/", views.order_confirm, name="order-confirm"),
    path("orders/<int:order_id>/hand-over/", views.order_hand_over, name="order-hand-over"),
    path("orders/<int:order_id>/take-back/", views.order_take_back, name="order-take-back"),
    path("orders/<int:order_id>/cancel/", views.order_cancel, name="order-cancel"),
    path("orders/files/<int:file_id>/", views_entry.file_show, name="file-show"),
    path("orders/files/<int:file_id>/answer/", views_entry.file_answer, name="file-answer"),
    path("orders/files/<int:file_id>/again/", views_entry.file_again, name="file-again"),
    path("orders/files/<int:file_id>/take-out/", views_entry.file_take_out, name="file-take-out"),
    path("orders/lines/<int:line_id>/", views_entry.line_set, name="line-set"),
    path("orders/lines/<int:line_id>/section/", views_entry.line_section, name="line-section"),
    path("customers/", views.customer_list, name="customer-list"),
    path("customers/<int:customer_id>/", views.customer_edit, name="customer-edit"),
]
