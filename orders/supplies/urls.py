"""Addresses of findings in stock and of what is bought."""

from django.urls import URLPattern, path

from orders.supplies import views

urlpatterns: list[URLPattern] = [
    path("supplies/", views.supply_list, name="supply_list"),
    path("supplies/to-buy/", views.supply_to_buy, name="supply_to_buy"),
    path("supplies/buy/", views.supply_buy_many, name="supply_buy_many"),
    path("supplies/bought/<int:pk>/", views.bought_together, name="bought_together"),
    path("supplies/<int:pk>/", views.supply, name="supply"),
    path("supplies/<int:pk>/buy/", views.supply_buy, name="supply_buy"),
    path("supplies/<int:pk>/count/", views.supply_count, name="supply_count"),
    path("supplies/<int:pk>/cease/", views.supply_cease, name="supply_cease"),
    path("supplies/purchases/<int:pk>/in/", views.purchase_in, name="purchase_in"),
    path("supplies/purchases/<int:pk>/off/", views.purchase_off, name="purchase_off"),
]
