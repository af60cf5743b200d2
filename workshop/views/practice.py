"""To the demo and back: acts are tried there, and the workshop's own book stays as it is."""

from django.contrib.auth import login
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from workshop.services.practice import (
    address_of,
    is_open,
    may_practise,
    open_beside,
    practises_here,
    read_pass,
)

BACK = "practice_back"


def practise(request) -> HttpResponse:
    """Open the demo beside the book; the page leads there as soon as it is open."""
    if not may_practise(request):
        return render(request, "workshop/practise.html", {"refused": True}, status=422)
    port = int(request.get_port())
    trouble = open_beside(port) if request.method == "POST" else ""
    context = {
        "trouble": trouble,
        "address": address_of(request) if not trouble and is_open(port) else "",
    }
    return render(request, "workshop/practise.html", context)


def practise_in(request, key: str) -> HttpResponse:
    """Into the demo, by a pass of the workshop's own book; nowhere else is there such a door."""
    found = read_pass(key) if practises_here() else None
    if found is None:
        raise Http404
    person, back = found
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    request.session[BACK] = back
    return redirect("orders:home")
