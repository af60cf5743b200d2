"""What one person can do next, by role: each act with its thing, its day and its button."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from urllib.parse import urlencode

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.bench.queries.packing import ToPack
from orders.bench.queries.work import BenchJob, BenchLine, BenchWork, ShelfBeads
from orders.firing.queries.burning import Burning
from orders.firing.queries.kiln_acts import KilnAct, kiln_acts
from orders.home.queries.to_prepare import ToPrepare
from orders.home.queries.today import Below, Owed
from orders.making.queries.findings import FindingStock
from orders.models import Order, Purchase
from stock.models import KilnLoad
from workshop import formats
from workshop.models import SecondLook

MOST_ACTS = 8
SOON = timedelta(hours=2)  # a kiln to be lit or opened by then is worth preparing for now


@dataclass(frozen=True)
class NextAct:
    """One thing to be done.

    title   what it is about, in few words
    about   the rest in one sentence
    when    the day it is due, or since when it waits, in words
    button  the act, named by verb and thing; url: where it leads, or is sent when it is a post
    day     by which acts are put in order; late  past its day
    caution one line to be read before it is done
    """

    title: str
    about: str
    button: str
    url: str
    when: str = ""
    day: date | None = None
    late: bool = False
    post: bool = False
    swatch: str = ""
    caution: str = ""


def in_order(acts: Iterable[NextAct]) -> list[NextAct]:
    """What is late first, then by its day."""
    return sorted(acts, key=lambda act: (not act.late, act.day or date.max))


def at_the_kilns(lit: Sequence[Burning], loads: Sequence[KilnLoad]) -> list[NextAct]:
    """To light, to open, to log (no queries): what is due soon, else whatever comes first."""
    until = timezone.now() + SOON
    acts = kiln_acts(lit, loads)
    soon = [act for act in acts if act.is_due or act.at <= until]
    return [_kiln(act) for act in soon or acts[:1]]


def _kiln(act: KilnAct) -> NextAct:
    load = act.load
    opens = load.state == KilnLoad.State.FIRING
    fill = _("%(heat)s for %(minutes)s") % {
        "heat": formats.celsius(load.hold_c), "minutes": formats.minutes(load.hold_min)
    }  # fmt: skip
    return NextAct(
        str(load.kiln),
        _("Load %(n)s, %(fill)s") % {"n": load.number, "fill": fill},
        act.words,
        act.url,
        when=f"{formats.date_short(act.at)} {formats.time_short(act.at)}",
        day=timezone.localtime(act.at).date(),
        late=act.at < timezone.now() - timedelta(hours=1) and not opens,
        caution=_("What is opened too hot cracks: gloves, face shield, a clear path.")
        if opens
        else _("Carbon monoxide has no smell: air the room before you light."),
    )


def to_agree(looks: Iterable[SecondLook]) -> list[NextAct]:
    """What another person asked for and this one may agree to (no queries but that of `looks`)."""
    return [
        NextAct(
            look.told,
            _("asked by %(name)s; it is done once you agree") % {"name": look.asked_by},
            _("Look at it"),
            reverse("workshop:second_look_list"),
            when=formats.date_short(look.asked_at),
        )
        for look in looks
    ]


def to_prepare(rows: Sequence[ToPrepare]) -> list[NextAct]:
    """Raw glass that orders wait for (no queries)."""
    today = timezone.localdate()
    return [
        NextAct(
            _("%(mass)s raw %(colour)s")
            % {"mass": formats.mass(row.raw_g), "colour": row.colour},
            _("into %(form)s, about %(time)s")
            % {"form": row.form_word, "time": formats.minutes(row.minutes)},
            _("Prepare it"),
            reverse("stock:preparation_log") + "?" + urlencode(
                {"colour": row.colour.pk, "form": row.form, "grams": row.raw_g}
            ),
            when=_due(row.first_due),
            day=row.first_due,
            late=row.first_due is not None and row.first_due < today,
            swatch=row.colour.swatch,
            caution=_("Glass dust harms the lungs: wet, with a mask (FFP2) and goggles."),
        )
        for row in rows
    ]  # fmt: skip


def to_pay(rows: Sequence[Owed]) -> list[NextAct]:
    """Collectors whose sacks are not paid (no queries)."""
    return [
        NextAct(
            str(row.who),
            _("sacks not paid yet"),
            _("Pay %(sum)s") % {"sum": formats.money(row.amount)},
            reverse("stock:collector", args=[row.who.pk]),
            when=_("since %(day)s") % {"day": formats.date_short(row.since)},
            day=row.since,
        )
        for row in rows
    ]


def at_the_bench(work: BenchWork) -> list[NextAct]:
    """What lies ready to be moulded, painted, finished, strung and packed (no queries)."""
    jobs = (
        (work.to_mould, _("Mould %(n)s"), "mould"),
        (work.to_paint, _("Paint %(n)s"), "paint"),
        (work.to_finish, _("Finish %(n)s"), "finish"),
    )
    found = [_job(row, words, place) for rows, words, place in jobs for row in rows]
    found += [_for_the_shelf(row) for row in work.shelf_to_paint]
    found += [_line(row) for row in work.to_string]
    return found + [_packing(row) for row in work.to_pack]


def _job(row: BenchJob, words: str, place: str) -> NextAct:
    button = words % {"n": formats.count(row.beads)}
    return _bench(str(row.job.bead), row.order, button, f"{place}-{row.job.pk}", row.minutes)


def _for_the_shelf(row: ShelfBeads) -> NextAct:
    about = _("%(batch)s, for the shelf, about %(time)s") % {
        "batch": row.batch, "time": formats.minutes(row.minutes)
    }  # fmt: skip
    button = _("Paint %(n)s") % {"n": formats.count(row.beads)}
    place = f"{reverse('orders:bench')}#paint-batch-{row.batch.pk}"
    return NextAct(str(row.batch.bead), about, button, place)


def _line(row: BenchLine) -> NextAct:
    button = _("String %(n)s") % {"n": formats.count(row.strands)}
    order = row.line.order
    return _bench(str(row.line.design), order, button, f"string-{row.line.pk}", row.minutes)


def _packing(row: ToPack) -> NextAct:
    steps = ", ".join(rate.step_id for rate in row.steps)
    return _bench(steps, row.order, _("Pack it"), f"pack-{row.order.number}", row.minutes)


def _bench(thing: str, order: Order, button: str, place: str, minutes: int) -> NextAct:
    about = _("for order %(n)s, %(who)s, about %(time)s") % {
        "n": order.number, "who": order.customer, "time": formats.minutes(minutes)
    }  # fmt: skip
    late = order.due_on is not None and order.due_on < timezone.localdate()
    return NextAct(
        thing, about, button, f"{reverse('orders:bench')}?all#{place}",
        when=_due(order.due_on), day=order.due_on, late=late,
    )  # fmt: skip


def to_hand_over(orders: Sequence[Order]) -> list[NextAct]:
    """What lies ready for its customer (no queries)."""
    return [
        NextAct(
            str(order.customer),
            _("order %(n)s lies ready") % {"n": order.number}
            + (f" · {order.customer.phone}" if order.customer.phone else ""),
            _("Hand over %(n)s") % {"n": order.number},
            reverse("orders:order_collect", args=[order.number]),
            when=_due(order.due_on),
            day=order.due_on,
            post=True,
        )
        for order in orders
    ]


def to_call(orders: Sequence[Order]) -> list[NextAct]:
    """Traders whose orders are late and not ready (no queries)."""
    today = timezone.localdate()
    return [
        NextAct(
            str(order.customer),
            _("order %(n)s is late") % {"n": order.number}
            + (f" · {order.customer.phone}" if order.customer.phone else ""),
            _("Tell her about %(n)s") % {"n": order.number},
            reverse("orders:order_tell", args=[order.number]),
            when=_due(order.due_on),
            day=order.due_on,
            late=True,
        )
        for order in orders
        if order.due_on is not None and order.due_on < today
    ]


def to_remind(rows: Sequence[Owed]) -> list[NextAct]:
    """Customers with invoices past their day (no queries)."""
    return [
        NextAct(
            row.who["name"],
            _("owes %(sum)s") % {"sum": formats.money(row.amount)},
            _("Look at the account"),
            reverse("orders:customer_detail", args=[row.who["pk"]]),
            when=_("since %(day)s") % {"day": formats.date_short(row.since)},
            day=row.since,
            late=True,
        )
        for row in rows
    ]


def to_buy(rows: Sequence[FindingStock]) -> list[NextAct]:
    """Clasps, cord and paint that orders lack or that run out (no queries)."""
    return [
        NextAct(
            str(row.finding),
            _("%(n)s missing for orders") % {"n": row.said(row.short)}
            if row.short
            else _("%(n)s left") % {"n": row.said(row.there)},
            _("Buy %(n)s") % {"n": row.said(row.to_buy)},
            reverse("orders:supply_buy", args=[row.finding.pk]),
            when=_("order by %(day)s") % {"day": formats.date_short(row.order_by)}
            if row.order_by
            else "",
            day=row.order_by,
            late=row.is_late,
        )
        for row in rows
    ]


def to_take_in(rows: Iterable[Purchase]) -> list[NextAct]:
    """What was ordered and should be here by now (no queries but that of `rows`)."""
    return [
        NextAct(
            str(row),
            _("ordered from %(supplier)s, should be here")
            % {"supplier": row.supplier or _("somebody")},
            _("Has it come?"),
            reverse("orders:supply", args=[row.finding_id]),
            when=_("expected %(day)s") % {"day": formats.date_short(row.expected_on)},
            day=row.expected_on,
        )
        for row in rows
    ]


def to_decide(orders: Sequence[Order], below: Sequence[Below] = ()) -> list[NextAct]:
    """Orders written down or quoted, for which a yes or no is still to come (no queries)."""
    lacks = {row.order.pk: row for row in below}

    def about(order: Order) -> str:
        told = {"n": order.number, "state": order.get_state_display()}
        if (row := lacks.get(order.pk)) is None:
            return _("order %(n)s, %(state)s") % told
        told["sum"] = formats.money(row.short)
        if row.loses:
            return _("order %(n)s, %(state)s: it loses %(sum)s") % told
        return _("order %(n)s, %(state)s: %(sum)s below full cost") % told

    return [
        NextAct(
            str(order.customer),
            about(order),
            _("Look at %(n)s") % {"n": order.number},
            reverse("orders:order_detail", args=[order.number]),
            when=_("since %(day)s") % {"day": formats.date_short(order.taken_on)},
        )
        for order in orders
    ]


def _due(day: date | None) -> str:
    return _("due %(day)s") % {"day": formats.date_short(day)} if day else ""
