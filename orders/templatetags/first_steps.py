"""The strand of the first steps, above each page that is opened as one of them."""

from django import template
from django.urls import reverse

from orders.home.queries.first_steps import first_steps, next_step
from workshop.views.edit import lead_on

register = template.Library()


@register.simple_tag(takes_context=True)
def after_first(context, url: str) -> str:
    """{% after_first back_url %}: where a page is left to; among the first steps, the next one."""
    return lead_on(context["request"], url)


@register.inclusion_tag("parts/_first_steps.html", takes_context=True)
def first_steps_strand(context):
    """{% first_steps_strand %}: which step this is, of how many; nothing on other pages."""
    request = context.get("request")
    if request is None or "first" not in request.GET or not request.user.is_owner:
        return {}
    steps = first_steps(request.business)
    here = request.resolver_match.view_name
    place = next((n for n, step in enumerate(steps, 1) if step.page == here), 0)
    if not place:
        return {}
    return {
        "step": steps[place - 1],
        "place": place,
        "all": len(steps),
        "stages": [
            (step.title, "now" if n == place else "done" if step.done else "todo")
            for n, step in enumerate(steps, 1)
        ],
        "home_url": reverse("orders:home"),
        "after": next_step(steps, here),
    }
