"""Wrong ways of doing it, kept so that the tests can show that they would notice. Run as a process:

make            an empty database
ours N F        waits for the file F, then takes N numbers; prints them
max N F         the same by max() + 1, looked up first and written later
keys K F        waits, then acts once under the key K; prints what it led to
check K F       the same by looking for the key first and writing it last
count           how many things were made under keys
"""

import os
import sys
import time
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")


def wait_for(flag: str) -> None:
    """Say that this process is ready, then wait until all of them are."""
    Path(f"{flag}.{os.getpid()}").touch()
    while not Path(flag).exists():
        time.sleep(0.005)


def ours(count: int) -> list[int]:
    from workshop.services.numbers import take_number

    return [take_number("ours") for _number in range(count)]


def max_plus_one(count: int) -> list[int]:
    """The mutant: the highest number so far, and one more."""
    from django.db.models import Max

    from stock.models import Collector

    taken = []
    for _number in range(count):
        highest = Collector.objects.aggregate(n=Max("pk"))["n"] or 0
        time.sleep(0.002)
        Collector.objects.create(name=f"number {highest + 1} of {os.getpid()}-{_number}")
        taken.append(highest + 1)
    return taken


def by_key(key: str) -> str:
    """Our own way: the key is written first, in the transaction of the act."""
    from django.http import HttpResponseRedirect
    from django.test import RequestFactory

    from stock.models import GlassColour
    from tests.builders import make_person
    from workshop.views.idempotent import idempotent

    @idempotent
    def view(request):
        time.sleep(0.02)
        made = GlassColour.objects.create(name=f"{key}-{os.getpid()}")
        return HttpResponseRedirect(f"/colours/{made.pk}/")

    request = RequestFactory().post("/colours/", {"key": key})
    request.user = make_person("owner")
    return view(request).url


def check_then_insert(key: str) -> str:
    """The mutant: look whether the key is there, act, and write it down afterwards."""
    from stock.models import GlassColour
    from tests.builders import make_person
    from workshop.models import IdempotencyKey

    earlier = IdempotencyKey.objects.filter(key=key).first()
    if earlier:
        return earlier.led_to
    time.sleep(0.02)
    made = GlassColour.objects.create(name=f"{key}-{os.getpid()}")
    IdempotencyKey.objects.get_or_create(
        key=key,
        defaults={"person": make_person("owner"), "digest": "", "led_to": f"/colours/{made.pk}/"},
    )
    return f"/colours/{made.pk}/"


def main(act: str, *rest: str) -> None:
    import django

    django.setup()
    if act == "make":
        from django.core.management import call_command

        from tests.builders import make_person

        call_command("migrate", verbosity=0, skip_checks=True)
        make_person("owner")
    elif act == "count":
        from stock.models import GlassColour

        print(GlassColour.objects.filter(name__startswith=rest[0]).count())
    else:
        wait_for(rest[1])
        if act in {"ours", "max"}:
            numbers = {"ours": ours, "max": max_plus_one}[act](int(rest[0]))
            print(*numbers)
        else:
            print({"keys": by_key, "check": check_then_insert}[act](rest[0]))


if __name__ == "__main__":
    main(*sys.argv[1:])
