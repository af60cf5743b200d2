"""What goes with a country: its money, its clocks, its sheet of paper, what it calls its VAT.

Guesses to begin with; the owner may correct each of them.
"""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from zoneinfo import available_timezones

from babel import Locale
from babel.numbers import get_territory_currencies

from workshop.letters import sorting_key

# Source: measurement data of the CLDR supplement (paperSize US-Letter), from memory.
LETTER = frozenset(
    ["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"]
)
# Source: measurement data of the CLDR supplement (measurementSystem US), from memory.
INCHES_AND_POUNDS = frozenset(["LR", "US"])
# What a tax on value added is called on its country's own invoices; VAT elsewhere. From memory.
_TAX_NAMES = {
    "IVA": "AR BO CL CO CR EC ES GT IT MX NI PT PY SV UY VE AO CV GQ GW MZ ST",
    "TVA": "FR LU MC RO MD BF BJ CD CF CG CI CM DJ DZ GA GN HT KM LB MA MG ML MR NE SN TD TG TN",
    "GST": "AU IN NZ PG PK SG MV BT",
    "USt": "AT DE",
    "MWST": "CH LI",
    "BTW": "NL SR",
    "TVA/BTW": "BE",
    "Moms": "DK SE FO GL",
    "MVA": "NO",
    "ALV": "FI",
    "VSK": "IS",
    "DPH": "CZ SK",
    "ÁFA": "HU",
    "DDV": "SI",
    "PDV": "BA HR ME RS",
    "ΦΠΑ": "CY GR",
    "ДДС": "BG",
    "ДДВ": "MK",
    "ПДВ": "UA",
    "KM": "EE",
    "PVN": "LV",
    "PVM": "LT",
    "TVSH": "AL XK",
    "KDV": "TR",
    "GST/HST": "CA",
    "IGV": "PE",
    "ISV": "HN",
    "ITBIS": "DO",
    "ITBMS": "PA",
    "ICMS": "BR",
    "PPN": "ID",
    "SST": "MY",
    "Sales tax": "US PR",
}
# Where most people live by other clocks than those that the database lists first. From memory.
MOST_LIVE_BY = {
    "AU": "Australia/Sydney",
    "BR": "America/Sao_Paulo",
    "CA": "America/Toronto",
    "RU": "Europe/Moscow",
    "UA": "Europe/Kyiv",
    "UZ": "Asia/Tashkent",
}
# Bulgaria pays in euros since 2026-01-01 (ISO 4217 as of 2026); Babel 2.18 is older.
NEWER_MONEY = {"BG": "EUR"}
TAX_NAME = {code: name for name, codes in _TAX_NAMES.items() for code in codes.split()}


@dataclass(frozen=True)
class Habits:
    """How a workshop in a country most likely writes its papers."""

    currency: str = "EUR"
    time_zone: str = "UTC"
    paper_size: str = "A4"
    tax_name: str = "VAT"
    length_unit: str = "cm"
    mass_unit: str = "kg"


def habits_of(country: str) -> Habits:
    """What goes with a country's ISO 3166 code; for none, what serves most.

    >>> habits_of("PT")
    Habits(currency='EUR', time_zone='Europe/Lisbon', paper_size='A4', tax_name='IVA', \
length_unit='cm', mass_unit='kg')
    >>> habits_of("US").paper_size, habits_of("US").time_zone
    ('Letter', 'America/New_York')

    Sources: currencies of the CLDR (Babel); zones of the IANA Time Zone Database (zone.tab), the
    first of a country's rows unless most people live elsewhere; the rest as above.
    """
    code = country.upper()
    if code not in country_zones():
        return Habits()
    usual = Habits()
    inches = code in INCHES_AND_POUNDS
    return Habits(
        currency=NEWER_MONEY.get(code)
        or next(iter(get_territory_currencies(code)), usual.currency),
        time_zone=MOST_LIVE_BY.get(code, country_zones()[code][0]),
        paper_size="Letter" if code in LETTER else usual.paper_size,
        tax_name=TAX_NAME.get(code, usual.tax_name),
        length_unit="in" if inches else usual.length_unit,
        mass_unit="lb" if inches else usual.mass_unit,
    )


@cache
def country_zones() -> dict[str, tuple[str, ...]]:
    """The time zones of each country, as the IANA Time Zone Database lists them (zone.tab)."""
    rows = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8").splitlines()
    zones: dict[str, tuple[str, ...]] = {}
    for row in rows:
        if row and not row.startswith("#"):
            code, _place, zone = row.split("\t")[:3]
            zones[code] = (*zones.get(code, ()), zone)
    return zones


@cache
def time_zones() -> tuple[str, ...]:
    """Every zone that some country's clocks follow, and UTC."""
    known = available_timezones()
    told = {zone for zones in country_zones().values() for zone in zones}
    return ("UTC", *sorted(told & known))


@cache
def countries(language: str) -> tuple[tuple[str, str], ...]:
    """Code and name of every country that has clocks of its own, by name."""
    names = Locale.parse(language).territories
    named = ((code, names.get(code, code)) for code in country_zones())
    return tuple(sorted(named, key=lambda row: sorting_key(row[1])))
