"""What is kept of the demo in a book of one's own."""

from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from orders.home.services import KEEPABLE


class OwnBookForm(forms.Form):
    """Ticks; what a thing cannot do without goes along with it."""

    keep = forms.MultipleChoiceField(
        label=_("Keep"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_(
            "What a thing cannot do without goes along: beads with their colours, moulds and "
            "firings, designs with their beads, clasps and cord."
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["keep"].choices = [
            (key, capfirst(each.label)) for key, each in KEEPABLE.items()
        ]
