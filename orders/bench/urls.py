"""Addresses of the bench."""

from django.urls import URLPattern, path

from orders.bench import views

urlpatterns: list[URLPattern] = [
    path("bench/", views.bench, name="bench"),
    path("bench/ticket/", views.bench_ticket, name="bench_ticket"),
    path("bench/beads/<int:pk>/moulded/", views.mould, name="bench_mould"),
    path("bench/beads/<int:pk>/painted/", views.paint, name="bench_paint"),
    path("bench/beads/<int:pk>/finished/", views.finish, name="bench_finish"),
    path("bench/strands/<int:pk>/strung/", views.string, name="bench_string"),
    path("bench/orders/<int:number>/packed/", views.pack, name="bench_pack"),
]
