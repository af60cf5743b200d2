"""Addresses of the stock room."""

from django.urls import URLPattern

app_name = "stock"

urlpatterns: list[URLPattern] = []
