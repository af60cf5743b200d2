"""What a plain form holds, written down and put into the log."""

from typing import Any

from workshop.models import Person
from workshop.services.acts import record_act


def save_plain(form: Any, *, act: str, person: Person) -> Any:
    """Save a valid form and log which boxes changed, from what to what."""
    # 0.12 typed over 0.12000 is no change, whatever the boxes say.
    changed = [
        name for name in form.changed_data if form.initial.get(name) != form.cleaned_data.get(name)
    ]
    before = {name: str(form.initial.get(name, "")) for name in changed}
    thing = form.save()
    after = {name: str(form.cleaned_data.get(name, "")) for name in changed}
    record_act(person, act, thing, before=before, after=after)
    return thing
