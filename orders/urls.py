"""Addresses of what people want, room by room."""

from django.urls import URLPattern

from orders.bench.urls import urlpatterns as bench
from orders.counter.urls import urlpatterns as counter
from orders.designs.urls import urlpatterns as designs
from orders.firing.urls import urlpatterns as firing
from orders.home.urls import urlpatterns as home
from orders.learning.urls import urlpatterns as learning
from orders.making.urls import urlpatterns as making
from orders.money.urls import urlpatterns as money
from orders.moving_in.urls import urlpatterns as moving_in
from orders.supplies.urls import urlpatterns as supplies

app_name = "orders"

urlpatterns: list[URLPattern] = [
    *home,
    *counter,
    *making,
    *firing,
    *learning,
    *bench,
    *designs,
    *supplies,
    *money,
    *moving_in,
]
