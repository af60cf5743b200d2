"""Addresses of the workshop itself: people, kilns, moulds, hours, rates."""

from django.urls import path

from workshop.views import sign_in

app_name = "workshop"

urlpatterns = [
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
]
