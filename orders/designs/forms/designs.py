"""Forms of designs, their parts and findings."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.designs.usual import USUAL_FINDINGS, UsualFinding
from orders.facts.standing import BEAD_NEEDS
from orders.models import DesignPart, Finding, StrandDesign
from stock.measures import quantity_box, smallest_of, typed_quantity, unit_of_use
from stock.models import Bead
from workshop.form_fields import CountField, LengthField, MoneyBox, NumberBox, PercentField
from workshop.forms import FurtherNames
from workshop.typed import whole_number

MOST_PARTS = 60


class FindingForm(forms.ModelForm):
    length_mm = LengthField(
        label=gettext_lazy("length on the cord"),
        required=False,
        if_empty=Decimal(0),
        smallest=0,
        help_text=gettext_lazy("e.g. 4 mm; nothing for cord"),
    )
    across_mm = LengthField(
        label=gettext_lazy("size across"), required=False, if_empty=Decimal(0), smallest=0
    )
    price = MoneyBox(
        label=gettext_lazy("price"),
        min_value=Decimal(0),
        help_text=gettext_lazy("Each; cord by the metre, paint, wash and fuel by the kilogram."),
    )
    kg_per_litre = NumberBox(
        label=gettext_lazy("a litre weighs, kg"),
        min_value=Decimal("0.1"),
        max_value=Decimal(20),
        max_digits=6,
        decimal_places=3,
        required=False,
        help_text=Finding._meta.get_field("kg_per_litre").help_text,
    )
    reorder_at = forms.CharField(
        label=gettext_lazy("buy more when so little is left"),
        max_length=40,
        required=False,
        help_text=gettext_lazy("e.g. 20, 50 m or 0.5 kg; only for what is counted in stock"),
    )

    class Meta:
        model = Finding
        fields = [
            "name", "kind", "fuel", "length_mm", "across_mm", "price", "kg_per_litre", "reorder_at",
            "delivery_days", "supplier", "swatch",
        ]  # fmt: skip
        widgets = {"swatch": forms.TextInput(attrs={"type": "color"})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["reorder_at"] = typed_quantity(self.instance.unit, self.instance.reorder_at)
        if self.instance.item_id is not None:
            if self.instance.kind != Finding.Kind.FUEL:
                self.fields.pop("fuel")
            for name in {"kind", "fuel"} & set(self.fields):
                self.fields[name].disabled = True
                self.fields[name].help_text = _(
                    "It is counted in stock, so it stays what it is; add another instead."
                )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        kind, fuel = cleaned.get("kind") or "", cleaned.get("fuel")
        if kind == Finding.Kind.FUEL and not fuel:
            self.add_error("fuel", _("Say which fuel it is, as the kilns burn it."))
        elif fuel and kind != Finding.Kind.FUEL:
            self.add_error("fuel", _("Only fuel is of a kind of fuel; leave this empty."))
        typed = (cleaned.get("reorder_at") or "").strip()
        try:
            unit = unit_of_use(kind)
            litre = cleaned.get("kg_per_litre")
            box = quantity_box(unit, kg_per_litre=litre, smallest=0)
            read = box.clean(typed) if typed else 0
            cleaned["reorder_at"] = smallest_of(unit, read)
        except ValidationError as error:
            self.add_error("reorder_at", error)
        return cleaned


@dataclass(frozen=True)
class FindingRow:
    """A usual finding as the page lists it: its tick and price, or that it is there already."""

    finding: UsualFinding
    tick: forms.BoundField | None = None
    price: forms.BoundField | None = None


class UsualFindingsForm(forms.Form):
    """Which of the usual clasps, cords and spacers are used, and what each costs."""

    def __init__(self, *args: Any, there: set[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fresh = [each for each in USUAL_FINDINGS if str(each.name) not in there]
        for each in self.fresh:
            self.fields[each.key] = forms.BooleanField(label=each.name, required=False)
            self.fields[f"{each.key}-price"] = MoneyBox(
                label=gettext_lazy("price"), min_value=Decimal(0), required=False
            )

    def groups(self) -> list[tuple[str, list[FindingRow]]]:
        """The rows under what kind of thing they are."""
        return [
            (
                str(kind.label),
                [
                    FindingRow(each, self[each.key], self[f"{each.key}-price"])
                    if each in self.fresh
                    else FindingRow(each)
                    for each in USUAL_FINDINGS
                    if each.kind == kind
                ],
            )
            for kind in (Finding.Kind.CORD, Finding.Kind.CLASP, Finding.Kind.SPACER)
        ]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        used = [each for each in self.fresh if said.get(each.key)]
        for each in self.fresh:
            box = f"{each.key}-price"
            if box in self.errors:
                continue
            if each in used and said.get(box) is None:
                self.add_error(box, _("Write what it costs; 0 if it costs nothing."))
            elif each not in used and said.get(box) is not None:
                self.add_error(each.key, _("Tick it too, or empty its price."))
        if not used and not self.errors:
            raise ValidationError(_("Tick at least one, or add one of your own."))
        return said

    def findings(self) -> list[Finding]:
        said = self.cleaned_data
        return [
            Finding(
                name=str(each.name),
                kind=each.kind,
                length_mm=each.length_mm,
                across_mm=each.across_mm,
                swatch=each.swatch,
                price=said[f"{each.key}-price"],
            )
            for each in self.fresh
            if said[each.key]
        ]


class DesignForm(forms.ModelForm):
    finished_mm = LengthField(
        label=gettext_lazy("finished length"),
        unit="cm",
        required=False,
        smallest=10,
        largest=50_000,
        help_text=gettext_lazy(
            "e.g. 45 cm, 16 in or 180 mm; a number alone is centimetres. Left empty: worked out "
            "from the size it is worn on."
        ),
    )
    around_mm = LengthField(
        label=gettext_lazy("size there"),
        unit="cm",
        required=False,
        smallest=50,
        largest=3000,
        help_text=gettext_lazy("e.g. 16 cm round the wrist, as measured"),
    )
    gap_mm = LengthField(
        label=gettext_lazy("gap or knot"),
        required=False,
        if_empty=Decimal(0),
        smallest=0,
        largest=100,
        help_text=gettext_lazy("e.g. 1 mm; it stands between beads only"),
    )
    rows = forms.IntegerField(
        label=gettext_lazy("rows"), min_value=1, max_value=20, initial=1, required=False
    )
    row_step_mm = LengthField(
        label=gettext_lazy("each row longer than the one inside it by"),
        required=False,
        if_empty=Decimal(0),
        smallest=0,
        largest=500,
        help_text=gettext_lazy("e.g. 20 mm; only for strands of several rows"),
    )
    cord_tails_mm = LengthField(
        label=gettext_lazy("cord left over for the ends"),
        required=False,
        if_empty=Decimal(0),
        smallest=0,
        largest=2000,
        help_text=gettext_lazy("e.g. 10 cm in all, for knots and threading"),
    )
    learning_rate = PercentField(
        label=gettext_lazy("learning rate, %"),
        required=False,
        min_value=Decimal(50),
        max_value=Decimal(100),
        help_text=gettext_lazy(
            "For a design new to the hands; left empty, they know it. At 80 %, each doubling of "
            "the strands strung saves a fifth of the time of one (Wright 1936)."
        ),
    )
    learning_first = NumberBox(
        label=gettext_lazy("the first one takes so many usual times"),
        required=False,
        min_value=Decimal(1),
        max_value=Decimal(100),
        help_text=gettext_lazy(
            "3: the first strand takes as long as three of a design the hands know, and the curve "
            "comes down to the usual time. 1: the usual time is that of the first strand."
        ),
    )
    learning_made = forms.IntegerField(
        label=gettext_lazy("strands of it strung before"), required=False, min_value=0
    )
    learning_practised = CountField(
        label=gettext_lazy("practised after so many strands"),
        required=False,
        smallest=1,
        largest=1_000_000,
        help_text=gettext_lazy(
            "From then on each takes the usual time. Left empty: where the curve itself comes down "
            "to the usual time, at 80 % and three times after 9 strands."
        ),
    )

    price = MoneyBox(
        label=gettext_lazy("price each"),
        min_value=Decimal(0),
        required=False,
        help_text=gettext_lazy(
            "For everybody, from today on. Left empty: what it costs and your margin."
        ),
    )

    tolerance = PercentField(
        label=gettext_lazy("tolerance of the length, %"),
        max_value=50,
        required=False,
        help_text=gettext_lazy("Further off, the page says so; nothing is refused."),
    )

    further_names = FurtherNames(longest=80)

    class Meta:
        model = StrandDesign
        fields = [
            "name",
            "finished_mm",
            "worn_at",
            "around_mm",
            "fit",
            "whole_repeats",
            "tolerance",
            "gap",
            "gap_mm",
            "mirrored",
            "graduated",
            "rows",
            "row_step_mm",
            "clasp",
            "cord",
            "cord_ratio",
            "cord_tails_mm",
            "learning_rate",
            "learning_first",
            "learning_made",
            "learning_practised",
            "note",
            "in_use",
            "further_names",
        ]
        widgets = {"note": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, like: StrandDesign | None = None, **kwargs: Any) -> None:
        """`like` is the design that a new one is a copy of."""
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            del self.fields["price"]  # prices have a page of their own from then on
            return
        if like is not None:
            self.initial |= forms.model_to_dict(like, [*self.fields]) | {"name": ""}
            return
        self.initial |= {"fit": StrandDesign.Fit.NEAREST, "whole_repeats": False}
        for name in ("clasp", "cord"):
            known = list(Finding.objects.filter(kind=name)[:2])
            if len(known) == 1:
                self.initial.setdefault(name, known[0].pk)

    # What is asked of every strand; the rest stands folded, filled with what is usual.
    HEAD = ("name", "finished_mm")
    ASKED = ("worn_at", "around_mm", "clasp", "cord", "price")

    def beside(self, design: StrandDesign) -> list[Any]:
        """The parts in their order, which the same page changes (1 query)."""
        return list(design.parts.values_list("position", "bead", "spacer", "count", "role"))

    LEARNING = ("learning_rate", "learning_first", "learning_made", "learning_practised")

    def begun_with(self) -> StrandDesign:
        """The design as it stands in the empty or filled boxes, before anybody typed."""
        if self.instance.pk:
            return self.instance
        begun = StrandDesign(name=_("This design"), finished_mm=None)
        for name in self.fields:
            if name in self.initial and name not in {"name", "clasp", "cord"}:
                setattr(begun, name, self.initial[name])
        begun.clasp_id, begun.cord_id = self.initial.get("clasp"), self.initial.get("cord")
        return begun

    def price_typed(self) -> Decimal | None:
        """The price in its box, as far as it can be read."""
        return self.cleaned_data.get("price") if self.is_bound else None

    def head_boxes(self) -> list:
        return [self[name] for name in self.HEAD]

    def strand_boxes(self) -> list:
        return [self[name] for name in self.ASKED if name in self.fields]

    def usual_boxes(self) -> list:
        named = {*self.LEARNING, *self.HEAD, *self.ASKED, "further_names"}
        return [box for box in self.visible_fields() if box.name not in named]

    @property
    def usual_open(self) -> bool:
        return any(box.name in self.errors for box in self.usual_boxes())

    def learning_boxes(self) -> list:
        return [self[name] for name in self.LEARNING]

    @property
    def is_learnt(self) -> bool:
        """Whether the boxes about new hands have something to say."""
        return bool(self["learning_rate"].value()) or any(
            name in self.errors for name in self.LEARNING
        )

    def clean_tolerance(self) -> Decimal:
        said = self.cleaned_data["tolerance"]
        return Decimal("0.03") if said is None else said

    def clean_rows(self) -> int:
        return self.cleaned_data["rows"] or 1

    def clean_learning_first(self) -> Decimal:
        return self.cleaned_data["learning_first"] or Decimal(3)

    def clean_learning_made(self) -> int:
        return self.cleaned_data["learning_made"] or 0

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        gap = cleaned.get("gap")
        if gap in {StrandDesign.Gap.GAP, StrandDesign.Gap.KNOT} and not cleaned.get("gap_mm"):
            self.add_error("gap_mm", _("Say how long the gap or knot is, such as 1 mm."))
        worn, around_mm = cleaned.get("worn_at"), cleaned.get("around_mm")
        if worn and around_mm is None and "around_mm" not in self.errors:
            self.add_error("around_mm", _("Write the size there, such as 16 cm."))
        elif around_mm is not None and not worn:
            self.add_error("worn_at", _("Say where it is worn: at the wrist, neck or waist."))
        if cleaned.get("finished_mm") is None and not worn and "finished_mm" not in self.errors:
            self.add_error("finished_mm", _("Write a length, or where it is worn and the size."))
        return cleaned

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        if not slugify(name):
            raise ValidationError(_("Give the design a name with letters or numbers in it."))
        return name

    def free_code(self) -> str:
        """A short name from the name that no other design has."""
        if self.instance.code:
            return self.instance.code
        base = slugify(self.cleaned_data["name"])[:26]
        code, again = base, 2
        while StrandDesign.objects.filter(code=code).exists():
            code, again = f"{base}-{again}", again + 1
        return code


class PartForm(forms.Form):
    """One part: a bead or a spacer, how many, and how it is laid."""

    what = forms.ChoiceField(
        label=gettext_lazy("bead or spacer"),
        error_messages={
            "required": gettext_lazy("Choose a bead or a spacer, or take this part off.")
        },
    )
    count = CountField(label=gettext_lazy("how many"), smallest=1, largest=5000)
    role = forms.ChoiceField(label=gettext_lazy("laid"), choices=DesignPart.Role.choices)

    def __init__(self, *args: Any, choices: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["what"].choices = choices

    def as_part(self, position: int, beads: dict[int, Bead], spacers: dict[int, Finding]):
        """The part as a row; to be saved with its design."""
        kind, __, key = self.cleaned_data["what"].partition("-")
        part = DesignPart(
            position=position, role=self.cleaned_data["role"], count=self.cleaned_data["count"]
        )
        if kind == "bead":
            part.bead = beads[int(key)]
        else:
            part.spacer = spacers[int(key)]
        return part


class PartForms:
    """The parts of a design in their order; rows move by buttons, with or without scripts."""

    def __init__(
        self, data: QueryDict | None, parts: Sequence[DesignPart] = (), bead: int | None = None
    ) -> None:
        beads = Bead.objects.filter(in_use=True) | Bead.objects.filter(parts__in=parts)
        self.beads = {bead.pk: bead for bead in beads.select_related(*BEAD_NEEDS).distinct()}
        self.spacers = {row.pk: row for row in Finding.objects.filter(kind=Finding.Kind.SPACER)}
        self.choices = choices = [
            ("", _("choose")),
            (_("Beads"), [(f"bead-{pk}", bead.name) for pk, bead in self.beads.items()]),
            (_("Spacers"), [(f"spacer-{pk}", row.name) for pk, row in self.spacers.items()]),
        ]
        if data is None:
            rows = [_as_row(part) for part in parts] or [self._first_row(bead)]
        else:
            rows = _moved(data)
        # Bound, also as the page opens: what stands in the boxes is drawn at once.
        self.forms = [
            PartForm(_prefixed(row, index), initial=row, prefix=f"part{index}", choices=choices)
            for index, row in enumerate(rows)
        ]

    def _first_row(self, bead: int | None) -> dict[str, str]:
        """The bead that was asked for; where only one bead is made, it is the one."""
        if bead not in self.beads:
            bead = next(iter(self.beads)) if len(self.beads) == 1 else None
        return {**EMPTY_ROW, "what": f"bead-{bead}" if bead else ""}

    def empty(self) -> PartForm:
        """A row to be copied by the bench's script, which puts its number in the place of #."""
        return PartForm(initial=EMPTY_ROW, prefix="part#", choices=self.choices)

    def is_valid(self) -> bool:
        # A list, so that every row is checked and can show its own sentence.
        return all([form.is_valid() for form in self.forms])  # noqa: C419

    def parts(self) -> list[DesignPart]:
        """The parts that can be read, in their order."""
        return [
            form.as_part(position, self.beads, self.spacers)
            for position, form in enumerate(self.forms, start=1)
            if form.is_valid()
        ]


FIELDS = ("what", "count", "role")
EMPTY_ROW = {"what": "", "count": "1", "role": "repeat"}


def _as_row(part: DesignPart) -> dict[str, str]:
    what = f"bead-{part.bead_id}" if part.bead_id else f"spacer-{part.spacer_id}"
    return {"what": what, "count": str(part.count), "role": part.role}


def _moved(data: QueryDict) -> list[dict[str, str]]:
    """The rows as sent, after the button that was pressed."""
    count = min(whole_number(data.get("rows_of_parts")) or 0, MOST_PARTS)
    rows = [
        {field: data.get(f"part{index}-{field}", "") for field in FIELDS} for index in range(count)
    ]
    act, __, key = data.get("do", "").partition(":")
    here = -1 if (place := whole_number(key)) is None else place
    if act == "part-add" and len(rows) < MOST_PARTS:
        rows.append({"what": "", "count": "1", "role": rows[-1]["role"] if rows else "repeat"})
    elif act == "part-put" and len(rows) < MOST_PARTS:
        rows = _with_one_more(rows, key)
    elif act == "part-drop" and 0 <= here < len(rows):
        rows.pop(here)
    elif act == "part-up" and 0 < here < len(rows):
        rows[here - 1], rows[here] = rows[here], rows[here - 1]
    elif act == "part-down" and 0 <= here < len(rows) - 1:
        rows[here + 1], rows[here] = rows[here], rows[here + 1]
    return rows


def _with_one_more(rows: list[dict[str, str]], what: str) -> list[dict[str, str]]:
    """A bead or spacer of the palette behind the rest, before what stands in the middle."""
    filled = [row for row in rows if row["what"]]
    centres = [row for row in filled if row["role"] == DesignPart.Role.CENTRE]
    others = [row for row in filled if row["role"] != DesignPart.Role.CENTRE]
    role = others[-1]["role"] if others else EMPTY_ROW["role"]
    return [*others, {"what": what, "count": "1", "role": role}, *centres]


def _prefixed(row: dict[str, str], index: int) -> dict[str, str]:
    return {f"part{index}-{field}": value for field, value in row.items()}
