"""Addresses of sign-in and people pages."""

from django.urls import path

from shopfloor.accounts import views, views_people

app_name = "accounts"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("tablet/", views.pin_choose, name="pin-choose"),
    path("tablet/<int:person_id>/", views.pin_enter, name="pin-enter"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("me/", views.me, name="me"),
    path("me/pin/", views.pin_set, name="pin-set"),
    path("me/password/", views.password_set, name="password-set"),
    path("people/", views_people.person_list, name="person-list"),
    path("people/new/", views_people.person_add, name="person-add"),
    path("people/<int:person_id>/", views_people.person_edit, name="person-edit"),
    path("people/<int:person_id>/pin/", views_people.person_pin, name="person-pin"),
    path("people/<int:person_id>/password/", views_people.person_password, name="person-password"),
    path("people/<int:person_id>/keep-out/", views_people.person_keep_out, name="person-keep-out"),
    path("people/<int:person_id>/let-in/", views_people.person_let_in, name="person-let-in"),
]
