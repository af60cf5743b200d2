"""A sample on a photograph: measured beside a coin, its nearest glasses proposed, confirmed."""

from decimal import Decimal

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import pgettext_lazy

from stock.forms.samples import ConfirmForm, SampleForm
from stock.matching import Found, NotToTell, look_at
from stock.models import SampleMatch
from stock.services.samples import keep_match
from workshop.models import Photo
from workshop.views.idempotent import idempotent
from workshop.views.photos import photo_and_thing

WORDS = {
    "same": pgettext_lazy("two colours", "hardly to be told apart"),
    "close": pgettext_lazy("two colours", "close"),
    "family": pgettext_lazy("two colours", "of the same family"),
    "far": pgettext_lazy("two colours", "another colour"),
}
RULES = 8  # as many stretches of the picture are marked at its edge


@idempotent
def sample(request, pk: int) -> HttpResponse:
    """Tap coin, bead and colour; look at what is proposed; keep what the eye confirms."""
    photo, pictured, thing = photo_and_thing(request, pk, "picture", "small")
    if not pictured.matched:
        raise Http404
    match = SampleMatch.objects.select_related("colour", "person").filter(photo=photo).first()
    sent = request.POST if request.method == "POST" else None
    form = SampleForm(sent, photo=photo, match=match, initial={"known": _usual_known(request)})
    found = _found(form, photo) if sent else None
    confirm = ConfirmForm(
        sent if sent and sent.get("do") == "keep" else None,
        initial={
            "size": Decimal(f"{found.size_mm:.1f}") if found else None,
            "glass": found.near[0].glass.pk if found and found.near else None,
        },
    )
    if found and confirm.is_bound and confirm.is_valid():
        said = confirm.cleaned_data
        kept = keep_match(
            photo, thing, found, points=form.tapped(), known_mm=form.cleaned_data["known"],
            size_mm=said["size"], glass=said["glass"], person=request.user,
        )  # fmt: skip
        messages.success(request, _("Noted with the photograph: %(found)s.") % {"found": kept})
        return redirect("stock:sample", pk=pk)
    context = {
        "photo": photo, "thing": thing, "back_url": pictured.url(photo.subject), "form": form,
        "match": match, "found": found, "near": _near(found), "confirm": confirm,
        "rules": [[round(side * n / RULES) for n in range(1, RULES)]
                  for side in (photo.width, photo.height)],
    }  # fmt: skip
    status = 422 if form.errors or confirm.errors else 200
    return render(request, "stock/sample.html", context, status=status)


def _usual_known(request) -> Decimal | None:
    """The coin this person laid beside a sample the last time (1 query)."""
    kept = SampleMatch.objects.filter(person=request.user).order_by("-at")
    return kept.values_list("known_mm", flat=True).first()


def _found(form: SampleForm, photo: Photo) -> Found | None:
    if not form.is_valid():
        return None
    known_mm = float(form.cleaned_data["known"])
    try:
        return look_at(bytes(photo.picture), form.tapped(), known_mm)
    except NotToTell as error:
        form.refuse(error)
        return None


def _near(found: Found | None) -> list[dict]:
    rows = found.near if found else []
    return [{"glass": row.glass, "apart": row.apart, "word": WORDS[row.word]} for row in rows]
