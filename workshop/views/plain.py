"""Add-and-change views for things that need no more than a form."""

from django.shortcuts import get_object_or_404
from django.urls import reverse

from workshop.views.edit import edit_page, leave_to_owner
from workshop.views.idempotent import idempotent


def plain_edit(form_class, *, list_name: str, new_heading, things=None, **kwargs):
    """A view that adds one (no pk) or changes one (pk), then goes back to its list.

    things  those that may be changed, where not all may
    """

    @idempotent
    def view(request, pk=None):
        model = form_class._meta.model
        may_change = model if things is None else things.all()
        thing = get_object_or_404(may_change, pk=pk) if pk is not None else None
        form = leave_to_owner(form_class(request.POST or None, instance=thing), request.user)
        return edit_page(
            request,
            form,
            heading=str(thing) if thing else new_heading,
            done_url=reverse(list_name),
            back_url=reverse(list_name),
            act=f"change {model._meta.model_name}" if thing else f"add {model._meta.model_name}",
            **kwargs,
        )

    return view
