"""Addresses of counter, orders, designs, people and money."""

from django.urls import URLPattern

app_name = "orders"

urlpatterns: list[URLPattern] = []
