"""Addresses of moving in."""

from django.urls import URLPattern, path

from orders.moving_in import views

urlpatterns: list[URLPattern] = [
    path("moving-in/", views.moving_in, name="moving_in"),
    path("moving-in/<slug:name>.<slug:ending>", views.sheet_file, name="moving_in_sheet"),
]
