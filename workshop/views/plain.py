"""Add-and-change views for things that need no more than a form."""

from django.shortcuts import get_object_or_404
from django.urls import reverse

from workshop.services.plain import save_plain
from workshop.views.edit import edit_page, leave_to_owner
from workshop.views.idempotent import idempotent


def plain_edit(
    form_class, *, list_name: str, new_heading, things=None, keep=save_plain, named=str, **kwargs
):
    """A view that adds one (no pk) or changes one (pk), then goes back to its list.

    things  those that may be changed, where not all may
    keep    how the form is saved, called as `save_plain` is
    named   what one that is there is called above its form
    """

    @idempotent
    def view(request, pk=None):
        model = form_class._meta.model
        may_change = model if things is None else things.all()
        thing = get_object_or_404(may_change, pk=pk) if pk is not None else None
        form = leave_to_owner(form_class(request.POST or None, instance=thing), request.user)
        name = model._meta.model_name
        act = f"change {name}" if thing else f"add {name}"
        return edit_page(
            request,
            form,
            heading=named(thing) if thing else new_heading,
            done_url=reverse(list_name),
            back_url=reverse(list_name),
            save=lambda form: keep(form, act=act, person=request.user),
            **kwargs,
        )

    return view
