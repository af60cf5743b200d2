"""How much of one hold is let go, held or taken over, and why."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from stock.models import ItemKind
from workshop.form_fields import CountField, MassField

LET_GO, HOLD, TAKE = "let", "hold", "take"
MG_PER_G = 1000


class HoldForm(forms.Form):
    """One row of the page; glass is typed as a mass, beads and strands are counted."""

    why = forms.CharField(
        label=_("Why"),
        max_length=200,
        required=False,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "class": "why-box", "placeholder": _("why")}
        ),
    )

    def __init__(self, *args: Any, kind: str, act: str, most: int = 0, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind
        glass = kind == ItemKind.GLASS
        self.fields["quantity"] = (MassField if glass else CountField)(
            label=_("How much") if glass else _("How many"),
            smallest=1,
            initial=most // MG_PER_G if glass else most,
            error_messages={"required": _("Write how much; nothing was typed.")},
        )
        self.fields["quantity"].widget.attrs["class"] = "count-box"
        if act == TAKE:
            self.fields["why"].required = True
            self.fields["why"].error_messages["required"] = _(
                "Say why the older order goes first; both orders keep the reason."
            )

    def quantity(self) -> int:
        """In the item's smallest unit: milligrams or pieces."""
        typed = self.cleaned_data["quantity"]
        return typed * MG_PER_G if self.kind == ItemKind.GLASS else typed
