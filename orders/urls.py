"""Addresses of counter, orders, designs, people and money."""

from django.urls import URLPattern, path

from orders.money_urls import urlpatterns as money_pages
from orders.views import (
    advice,
    bench,
    counter,
    curves,
    customers,
    designs,
    findings,
    firing,
    firing_loads,
    firing_log,
    firing_plans,
    firing_records,
    holds,
    home,
    learning,
    orders,
    prices,
    shortage,
    to_stock,
    what_if,
)

app_name = "orders"

counter_pages: list[URLPattern] = [
    path("counter/", counter.counter, name="counter"),
    path("counter/change/", counter.counter_change, name="counter_change"),
    path("counter/panel/", counter.counter_panel, name="counter_panel"),
    path("counter/working/<slug:figure>/", counter.counter_working, name="counter_working"),
    path("counter/people/", counter.counter_people, name="counter_people"),
    path("counter/designs/", counter.counter_designs, name="counter_designs"),
]

order_pages: list[URLPattern] = [
    path("orders/", orders.order_list, name="order_list"),
    path("orders/<int:number>/", orders.order_detail, name="order_detail"),
    path("orders/<int:number>/change/", counter.counter, name="order_change"),
    path("orders/<int:number>/change/step/", counter.counter_change, name="order_counter_change"),
    path("orders/<int:number>/change/panel/", counter.counter_panel, name="order_counter_panel"),
    path("orders/<int:number>/holds/", holds.order_holds, name="order_holds"),
    path("orders/<int:number>/confirm/", orders.order_confirm, name="order_confirm"),
    path("orders/<int:number>/reopen/", orders.order_reopen, name="order_reopen"),
    path("orders/<int:number>/cancel/", orders.order_cancel, name="order_cancel"),
    path("orders/<int:number>/collect/", orders.order_collect, name="order_collect"),
    path("orders/<int:number>/string/", orders.order_string, name="order_string"),
    path("orders/<int:number>/working/", orders.order_working, name="order_working"),
    path("orders/<int:number>/what-if/", what_if.what_if, name="order_what_if"),
]

design_pages: list[URLPattern] = [
    path("designs/", designs.design_list, name="design_list"),
    path("designs/add/", designs.design_edit, name="design_add"),
    path("designs/drawing/", designs.design_drawing, name="design_drawing"),
    path("designs/findings/", findings.finding_list, name="design_finding_list"),
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
    path("designs/<int:pk>/change/", designs.design_edit, name="design_change"),
]

people_pages: list[URLPattern] = [
    path("people/", customers.customer_list, name="customer_list"),
    path("people/add/", customers.customer_edit, name="customer_add"),
    path("people/<int:pk>/", customers.customer_detail, name="customer_detail"),
    path("people/<int:pk>/change/", customers.customer_edit, name="customer_change"),
]

firing_pages: list[URLPattern] = [
    path("firing/", firing.firing, name="firing"),
    path("firing/plan/", firing_plans.propose, name="plan_propose"),
    path("firing/plan/search/", firing_plans.search, name="plan_search"),
    path("firing/plan/<int:pk>/", firing_plans.plan, name="plan"),
    path("firing/no-firing/", firing_plans.forbid, name="firing_forbid"),
    path("firing/no-firing/<int:pk>/allow/", firing_plans.allow, name="firing_allow"),
    path("firing/kept/", firing_records.kept, name="dates_kept"),
    path("firing/calendar/", firing_records.calendar_address, name="calendar_address"),
    path("firing/calendar/<str:secret>.ics", firing_records.calendar_feed, name="calendar_feed"),
    path("firing/learned/", learning.learned, name="firing_learned"),
    path("firing/learned/accept/", learning.accept, name="firing_learned_accept"),
    path("firing/learned/<int:pk>/undo/", learning.undo, name="firing_learned_undo"),
    path("firing/learned/rejects/", learning.rejects, name="firing_rejects"),
    path("firing/advice/", advice.advice, name="firing_advice"),
    path("firing/advice/glass/", advice.unusual_glass, name="firing_unusual"),
    path("firing/load/<int:number>/", firing_loads.load, name="load"),
    path("firing/load/<int:number>/sheet/", firing_records.load_sheet, name="load_sheet"),
    path("firing/load/<int:number>/change/", firing_loads.change, name="load_change"),
    path("firing/load/<int:number>/pin/", firing_loads.pin, name="load_pin"),
    path("firing/load/<int:number>/start/", firing_log.start, name="load_start"),
    path("firing/load/<int:number>/log/", firing_log.end, name="load_end"),
    path("firing/load/<int:number>/curve/", curves.curve, name="load_curve"),
    path("firing/load/<int:number>/spoiled/", firing_log.spoil, name="load_spoil"),
    path("firing/load/<int:number>/tray/<int:pk>/", firing_loads.move, name="tray_move"),
]

bench_pages: list[URLPattern] = [
    path("bench/", bench.bench, name="bench"),
    path("bench/ticket/", firing_records.bench_ticket, name="bench_ticket"),
    path("bench/beads/<int:pk>/moulded/", bench.mould, name="bench_mould"),
    path("bench/beads/<int:pk>/painted/", bench.paint, name="bench_paint"),
    path("bench/beads/<int:pk>/finished/", bench.finish, name="bench_finish"),
    path("bench/strands/<int:pk>/strung/", bench.string, name="bench_string"),
]

glass_pages: list[URLPattern] = [
    path("glass/short/", shortage.glass_short, name="glass_short"),
    path("glass/wanted/", shortage.glass_collect, name="glass_collect"),
]

urlpatterns: list[URLPattern] = [
    path("", home.home, name="home"),
    *counter_pages,
    *order_pages,
    *firing_pages,
    *bench_pages,
    *glass_pages,
    *design_pages,
    *people_pages,
    *money_pages,
]
