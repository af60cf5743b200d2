"""Addresses of the front page and of glass that is short."""

from django.urls import URLPattern, path

from orders.home.views import find, guide, home, own_book, phone_pages, scan, shortage

urlpatterns: list[URLPattern] = [
    path("", home.home, name="home"),
    path("find/", find.find, name="find"),
    path("scan/", scan.scan, name="scan"),
    path("guide/", guide.guide, name="guide"),
    path("first/next/", home.first_next, name="first_next"),
    path("own-book/", own_book.own_book, name="own_book"),
    path("phone-pages/", phone_pages.phone_pages, name="phone_pages"),
    path("glass/short/", shortage.glass_short, name="glass_short"),
    path("glass/to-prepare/", shortage.glass_to_prepare, name="glass_to_prepare"),
    path("glass/to-prepare/ticket/", shortage.prepare_ticket, name="prepare_ticket"),
    path("glass/wanted/", shortage.glass_collect, name="glass_collect"),
]
