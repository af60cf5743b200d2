"""Addresses of designs, findings and prices."""

from django.urls import URLPattern, path

from orders.designs.views import designs, findings, prices, to_stock

urlpatterns: list[URLPattern] = [
    path("designs/", designs.design_list, name="design_list"),
    path("designs/add/", designs.design_edit, name="design_add"),
    path("designs/drawing/", designs.design_drawing, name="design_drawing"),
    path("designs/findings/", findings.finding_list, name="design_finding_list"),
    path("designs/findings/usual/", findings.finding_usual, name="design_finding_usual"),
    path("designs/findings/add/", findings.finding_edit, name="design_finding_add"),
    path("designs/findings/<int:pk>/", findings.finding_edit, name="design_finding_change"),
    path("designs/prices/", prices.price_list, name="design_price_list"),
    path("designs/prices/add/", prices.price_edit, name="design_price_add"),
    path("designs/prices/<int:pk>/", prices.price_edit, name="design_price_change"),
    path("designs/breaks/", prices.break_list, name="design_break_list"),
    path("designs/breaks/add/", prices.break_edit, name="design_break_add"),
    path("designs/breaks/<int:pk>/", prices.break_edit, name="design_break_change"),
    path("designs/<int:pk>/", designs.design_detail, name="design_detail"),
    path("designs/<int:pk>/string/", to_stock.design_string, name="design_string"),
    path("designs/<int:pk>/drawing/", designs.design_drawing, name="design_change_drawing"),
    path("designs/<int:pk>/change/", designs.design_edit, name="design_change"),
]
