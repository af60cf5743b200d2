"""Addresses of the counter, of orders and their slips, and of people."""

from django.urls import URLPattern, path

from orders.counter.views import counter, customers, orders, papers, sell, stall, what_if

urlpatterns: list[URLPattern] = [
    path("counter/", counter.counter, name="counter"),
    path("counter/change/", counter.counter_change, name="counter_change"),
    path("counter/panel/", counter.counter_panel, name="counter_panel"),
    path("counter/working/<slug:figure>/", counter.counter_working, name="counter_working"),
    path("counter/people/", counter.counter_people, name="counter_people"),
    path("counter/designs/", counter.counter_designs, name="counter_designs"),
    path("sell/", sell.sell_page, name="sell"),
    path("sell/panel/", sell.sell_panel, name="sell_panel"),
    path("sales/", sell.sale_list, name="sale_list"),
    path("sales/<int:number>/", sell.sale, name="sale"),
    path("sales/<int:number>/back/", sell.sale_back, name="sale_back"),
    path("stall/", stall.stall_list, name="stall_list"),
    path("stall/out/", stall.stall_out, name="stall_out"),
    path("stall/<int:pk>/", stall.stall, name="stall"),
    path("stall/<int:pk>/home/", stall.stall_home, name="stall_home"),
    path("orders/", orders.order_list, name="order_list"),
    path("orders/<int:number>/", orders.order_detail, name="order_detail"),
    path("orders/<int:number>/change/", counter.counter, name="order_change"),
    path("orders/<int:number>/change/step/", counter.counter_change, name="order_counter_change"),
    path("orders/<int:number>/change/panel/", counter.counter_panel, name="order_counter_panel"),
    path("orders/<int:number>/confirm/", orders.order_confirm, name="order_confirm"),
    path("orders/<int:number>/reopen/", orders.order_reopen, name="order_reopen"),
    path("orders/<int:number>/cancel/", orders.order_cancel, name="order_cancel"),
    path("orders/<int:number>/collect/", orders.order_collect, name="order_collect"),
    path("orders/<int:number>/string/", orders.order_string, name="order_string"),
    path("orders/<int:number>/working/", orders.order_working, name="order_working"),
    path("orders/<int:number>/what-if/", what_if.what_if, name="order_what_if"),
    path("orders/<int:number>/slip.pdf", papers.order_slip, name="order_slip"),
    path("orders/<int:number>/slip-roll.pdf", papers.order_slip_roll, name="order_slip_roll"),
    path("orders/<int:number>/cost-sheet.pdf", papers.cost_sheet, name="cost_sheet"),
    path("orders/<int:number>/tags.pdf", papers.strand_tags, name="strand_tags"),
    path("money/price-list.pdf", papers.price_list, name="price_list"),
    path("people/", customers.customer_list, name="customer_list"),
    path("people/add/", customers.customer_edit, name="customer_add"),
    path("people/<int:pk>/", customers.customer_detail, name="customer_detail"),
    path("people/<int:pk>/change/", customers.customer_edit, name="customer_change"),
]
