"""Addresses of what an order holds."""

from django.urls import URLPattern, path

from orders.making import views

urlpatterns: list[URLPattern] = [
    path("orders/<int:number>/holds/", views.order_holds, name="order_holds"),
]
