"""Addresses of what is learned from the records."""

from django.urls import URLPattern, path

from orders.learning import views

urlpatterns: list[URLPattern] = [
    path("firing/learned/", views.learned, name="firing_learned"),
    path("firing/learned/accept/", views.accept, name="firing_learned_accept"),
    path("firing/learned/accept-all/", views.accept_agreeing, name="firing_learned_accept_all"),
    path("firing/learned/<int:pk>/undo/", views.undo, name="firing_learned_undo"),
    path("firing/learned/rejects/", views.rejects, name="firing_rejects"),
]
