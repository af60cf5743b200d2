"""Addresses of the whole project; each app keeps its own."""

from django.urls import include, path

urlpatterns = [
    path("", include("orders.urls")),
    path("stock/", include("stock.urls")),
    path("workshop/", include("workshop.place_urls")),
]

handler400 = "workshop.views.errors.bad_request"
handler404 = "workshop.views.errors.nothing_here"
handler500 = "workshop.views.errors.server_error"
