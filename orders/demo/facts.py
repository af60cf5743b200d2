"""The demo's standing facts, read from the project's fixtures folder."""

import tomllib
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

from orders.models import (
    Customer,
    DesignPart,
    DesignPrice,
    Finding,
    QuantityBreak,
    StrandDesign,
)
from stock.models import Bead, BeadColour, Collector, CollectorPrice, GlassColour
from workshop.models import (
    Business,
    ClosedDay,
    Kiln,
    LabourRate,
    Mould,
    Person,
    Programme,
    StandingCost,
    TaxRate,
    WorkingHours,
)
from workshop.services.people import new_password

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "tidewrack"


def read(name: str) -> dict[str, Any]:
    """One file of the demo as plain dictionaries."""
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


def load_workshop(since: date) -> None:
    """Business, people, kilns, moulds, programmes, rates and hours; nobody has a password yet."""
    facts = read("workshop")
    Business(invented=True, **_with_decimals(facts["business"])).save()
    now = timezone.now()
    Person.objects.bulk_create(
        Person(password="", date_joined=now, **person) for person in facts["people"]
    )
    Kiln.objects.bulk_create(Kiln(**_with_decimals(kiln)) for kiln in facts["kilns"])
    Programme.objects.bulk_create(Programme(**programme) for programme in facts["programmes"])
    Mould.objects.bulk_create(Mould(**_with_decimals(mould)) for mould in facts["moulds"])
    LabourRate.objects.bulk_create(
        LabourRate(step_id=rate.pop("step"), valid_from=since, **_with_decimals(rate))
        for rate in facts["rates"]
    )
    TaxRate.objects.bulk_create(
        TaxRate(valid_from=since, **_with_decimals(rate)) for rate in facts["tax_rates"]
    )
    StandingCost.objects.create(valid_from=since, **_with_decimals(facts["standing_costs"]))
    _load_hours(facts["hours"])
    close_days(since.year)


def close_days(year: int) -> None:
    """The feasts of a year and of the next."""
    ClosedDay.objects.bulk_create(
        ClosedDay(day=date(each, month, day), why=why)
        for each in (year, year + 1)
        for month, day, why in ((1, 1, "New Year"), (5, 1, "Labour Day"), (12, 25, "Christmas"))
    )


def new_passwords() -> dict[str, str]:
    """A fresh password for everybody, by the name they sign in with."""
    passwords = {}
    for person in Person.objects.order_by("pk"):
        passwords[person.username] = word = new_password()
        person.set_password(word)
        person.save(update_fields=["password"])
    return passwords


def _load_hours(hours: dict[str, list[str]]) -> None:
    days = [(day, hours["weekdays"]) for day in range(5)] + [(5, hours["saturday"])]
    WorkingHours.objects.bulk_create(
        WorkingHours(weekday=day, opens=stretch.split("-")[0], closes=stretch.split("-")[1])
        for day, stretches in days
        for stretch in stretches
    )


def load_stock(since: date) -> None:
    """Glass colours, collectors and their prices, and what the workshop's beads are."""
    facts = read("stock")
    colours = {row["name"]: GlassColour(**_with_decimals(row)) for row in facts["colours"]}
    GlassColour.objects.bulk_create(colours.values())
    for row in facts["collectors"]:
        Collector.objects.create(**row)
    CollectorPrice.objects.bulk_create(
        CollectorPrice(colour=colour, price_per_kg=colour.price_per_kg, valid_from=since)
        for colour in colours.values()
    )
    moulds = {mould.name: mould for mould in Mould.objects.all()}
    programmes = {programme.name: programme for programme in Programme.objects.all()}
    for row in facts["beads"]:
        shares = row.pop("colours")
        row["mould"] = moulds[row["mould"]]
        row["programme"] = programmes[row["programme"]]
        if "second_programme" in row:
            row["second_programme"] = programmes[row["second_programme"]]
        bead = Bead(**_with_decimals(row))
        bead.full_clean()
        bead.save()
        BeadColour.objects.bulk_create(
            BeadColour(bead=bead, colour=colours[name], share=Decimal(share), layer=layer)
            for layer, (name, share) in enumerate(shares.items())
        )


def load_wants(since: date) -> None:
    """Findings, strand designs with their parts and prices, and customers."""
    facts = read("orders")
    Finding.objects.bulk_create(Finding(**_with_decimals(row)) for row in facts["findings"])
    findings = {finding.name: finding for finding in Finding.objects.all()}
    beads = {bead.name: bead for bead in Bead.objects.all()}
    for row in facts["designs"]:
        _load_design(row, findings, beads, since)
    # Traders who take a great many get a little more off.
    QuantityBreak.objects.create(
        group="trader", from_strands=60, off=Decimal("0.05"), valid_from=since
    )
    for group in facts["customers"]:
        for name in group["names"]:
            Customer.objects.create(
                name=name, group=group["group"], **_address(name, group["group"])
            )


def _load_design(row, findings, beads, since: date) -> None:
    parts, price = row.pop("parts"), Decimal(row.pop("price"))
    for name in ("clasp", "cord"):
        if name in row:
            row[name] = findings[row[name]]
    design = StrandDesign.objects.create(**_with_decimals(row))
    DesignPart.objects.bulk_create(
        DesignPart(
            design=design,
            position=place,
            role=role,
            count=count,
            bead=beads.get(name),
            spacer=None if name in beads else findings[name],
        )
        for place, (role, name, count) in enumerate(parts)
    )
    # Shops pay the list price, traders less for many. People at the counter take one or two, which
    # bear the set-ups of their beads alone, and pay for that.
    DesignPrice.objects.bulk_create(
        DesignPrice(
            design=design,
            group=group,
            from_strands=least,
            price=(price * factor).quantize(Decimal("0.1")),
            valid_from=since,
        )
        for group, least, factor in (
            ("", 1, Decimal("1")),
            ("trader", 24, Decimal("0.94")),
            ("walk-in", 1, Decimal("1.6")),
        )
    )


def _address(name: str, group: str) -> dict[str, Any]:
    """Invented addresses; the .example domain is set aside for that (RFC 2606)."""
    number = sum(map(ord, name)) % 80 + 1
    word = name.split()[0].lower()
    if group == "walk-in":
        return {}
    return {
        "address": f"{'Quay Street' if number % 2 else 'Ropewalk'} {number}\nSant Orrel",
        "country": "IE",
        "email": f"{word}{number}@orrel.example",
        "phone": f"+353 20 000 0{number:03d}",
        "credit_limit": Decimal(400) if group == "trader" else Decimal(1500),
    }


def _with_decimals(row: dict[str, Any]) -> dict[str, Any]:
    """Figures stand in quotes in the files, so that no float comes between."""
    return {key: _decimal(value) for key, value in row.items()}


def _decimal(value: Any) -> Any:
    if (
        isinstance(value, str)
        and value.replace(".", "", 1).isdigit()
        and not value.startswith("00")
    ):
        return Decimal(value)
    return value


def half_a_year_ago(today: date) -> date:
    return today - timedelta(days=182)
