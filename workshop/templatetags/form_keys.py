"""The hidden key that lets a form act once."""

from django import template
from django.utils.html import format_html

from workshop.views.idempotent import new_form_key
from workshop.views.stale import seen_mark

register = template.Library()


@register.simple_tag(takes_context=True)
def form_key(context):
    """A hidden box with this form's key; a form shown again with errors keeps its own.

    A form that changes something there is also carries a mark of what it was filled from.
    """
    request = context.get("request")
    key = (request.POST.get("key") if request is not None else "") or new_form_key()
    return format_html(
        '<input type="hidden" name="key" value="{}">{}', key, seen_mark(context.get("form"))
    )
