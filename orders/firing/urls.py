"""Addresses of the kilns: board, plans, loads, records and advice."""

from django.urls import URLPattern, path

from orders.firing.views import advice, bead_bench, board, curves, loads, log, plans, records

urlpatterns: list[URLPattern] = [
    path("firing/", board.firing, name="firing"),
    path("firing/plan/", plans.propose, name="plan_propose"),
    path("firing/plan/search/", plans.search, name="plan_search"),
    path("firing/plan/<int:pk>/", plans.plan, name="plan"),
    path("firing/no-firing/", plans.forbid, name="firing_forbid"),
    path("firing/no-firing/<int:pk>/allow/", plans.allow, name="firing_allow"),
    path("firing/kept/", records.kept, name="dates_kept"),
    path("firing/calendar/", records.calendar_address, name="calendar_address"),
    path("firing/calendar/<str:secret>.ics", records.calendar_feed, name="calendar_feed"),
    path("firing/advice/", advice.advice, name="firing_advice"),
    path("firing/advice/bead/", bead_bench.bead_bench, name="firing_bead"),
    path("firing/advice/bead/<int:pk>/", bead_bench.bead_bench, name="firing_bead_change"),
    path("firing/advice/soak/", advice.soak, name="firing_soak"),
    path("firing/advice/glass/", advice.unusual_glass, name="firing_unusual"),
    path("firing/load/<int:number>/", loads.load, name="load"),
    path("firing/load/<int:number>/sheet/", records.load_sheet, name="load_sheet"),
    path("firing/load/<int:number>/change/", loads.change, name="load_change"),
    path("firing/load/<int:number>/pin/", loads.pin, name="load_pin"),
    path("firing/load/<int:number>/start/", log.start, name="load_start"),
    path("firing/load/<int:number>/pierced/", log.pierced, name="load_pierced"),
    path("firing/load/<int:number>/log/", log.end, name="load_end"),
    path("firing/load/<int:number>/curve/", curves.curve, name="load_curve"),
    path("firing/load/<int:number>/spoiled/", log.spoil, name="load_spoil"),
    path("firing/load/<int:number>/tray/<int:pk>/", loads.move, name="tray_move"),
]
