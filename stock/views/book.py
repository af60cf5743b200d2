"""The book itself: what was posted, taking it back, and the places it speaks of."""

from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from stock.filters import PostingFilter
from stock.forms import BackForm, PlaceForm
from stock.models import Posting, PostingKind, StockLocation
from stock.services.undo import take_back as undo
from stock.tables import PlaceTable, PostingTable
from stock.views.prices import sees_prices
from workshop.doors import may
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit


class PostingList(ListPage):
    queryset = Posting.objects.select_related("person")
    table_class = PostingTable
    heading = gettext_lazy("The book")
    lead = gettext_lazy(
        "Everything that came, went or was made, in the order it was written. Nothing here is "
        "edited; a mistake is taken back by a line that names it."
    )
    filterset_class = PostingFilter
    empty = gettext_lazy("Nothing is written yet. The first sack opens the book.")


def detail(request, pk):
    """One posting with its movements."""
    posting = get_object_or_404(
        Posting.objects.select_related("person", "reverses", "reversed_by"), pk=pk
    )
    return render(request, "stock/posting.html", _context(request, posting))


def _context(request, posting: Posting) -> dict:
    movements = posting.movements.select_related("item", "from_place", "to_place")
    undone = getattr(posting, "reversed_by", None)
    return {
        "posting": posting,
        "movements": movements,
        "charges": posting.charges.select_related("item") if sees_prices(request) else [],
        "undone": undone,
        "may_take_back": undone is None
        and posting.kind != PostingKind.REVERSAL
        and may(request, "stock:posting_back", "POST"),
        "sees_prices": sees_prices(request),
    }


@idempotent
def take_back(request, pk):
    """Reverse a mistake by a posting that names it."""
    posting = get_object_or_404(Posting, pk=pk)
    form = BackForm(request.POST or None)
    return edit_page(
        request,
        form,
        heading=_("Take back posting %(number)s") % {"number": posting.pk},
        lead=_what_it_means(posting),
        submit_label=_("Take it back"),
        save=lambda form: undo(posting, why=form.cleaned_data["why"], person=request.user),
        saved=_("Taken back. Both lines stay in the book."),
        done_url=reverse("stock:posting", args=[pk]),
        back_url=reverse("stock:posting", args=[pk]),
    )


def _what_it_means(posting: Posting) -> str:
    words = {"why": posting.why, "number": posting.belongs_ref}
    if posting.belongs_kind == "order":
        sentence = _(
            "%(why)s: everything it moved goes back where it was, and order %(number)s goes back "
            "to where it stood. Work tickets stay as they were written."
        )
    elif posting.belongs_kind == "load" and posting.kind != PostingKind.LOADING:
        sentence = _(
            "%(why)s: all that came out of load %(number)s is taken back together, and its log can "
            "be written anew. Work tickets stay as they were written."
        )
    else:
        sentence = _("%(why)s: everything it moved goes back where it was.")
    return sentence % words


class PlaceList(ListPage):
    queryset = StockLocation.objects.filter(inside=True)
    table_class = PlaceTable
    heading = gettext_lazy("Shelves and trays")
    filterset_fields = ["kind"]
    add_url_name = "stock:place_add"
    add_label = gettext_lazy("Add a place")
    empty = gettext_lazy("No place yet; the usual ones are made when something is put there.")


edit_place = plain_edit(
    PlaceForm,
    list_name="stock:place_list",
    new_heading=gettext_lazy("New place"),
    # The places every workshop has are not the keeper's to change.
    things=StockLocation.objects.filter(inside=True, code=""),
)
