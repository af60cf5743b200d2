"""What the country of a new workshop fills in, against tables that are not ours."""

import phonenumbers
import pytest
from babel import Locale
from iso4217 import Currency

from workshop.countries import TAX_NAME, countries, country_zones, habits_of, time_zones

# Countries, and what is used there. Currencies: ISO 4217 list one; zones: IANA Time Zone Database
# 2026; sheets: ISO 216 is used everywhere but in North and parts of Latin America; names of the
# tax: European Commission, "VAT identification numbers" (PT, DE, FR, GR), the tax offices of
# Australia and Switzerland; all from memory.
KNOWN = {
    "PT": ("EUR", "Europe/Lisbon", "A4", "IVA"),
    "DE": ("EUR", "Europe/Berlin", "A4", "USt"),
    "FR": ("EUR", "Europe/Paris", "A4", "TVA"),
    "GR": ("EUR", "Europe/Athens", "A4", "ΦΠΑ"),
    "GB": ("GBP", "Europe/London", "A4", "VAT"),
    "CH": ("CHF", "Europe/Zurich", "A4", "MWST"),
    "GH": ("GHS", "Africa/Accra", "A4", "VAT"),
    "KE": ("KES", "Africa/Nairobi", "A4", "VAT"),
    "IN": ("INR", "Asia/Kolkata", "A4", "GST"),
    "BG": ("EUR", "Europe/Sofia", "A4", "ДДС"),
    "BR": ("BRL", "America/Sao_Paulo", "A4", "ICMS"),
    "CA": ("CAD", "America/Toronto", "Letter", "GST/HST"),
    "AU": ("AUD", "Australia/Sydney", "A4", "GST"),
    "US": ("USD", "America/New_York", "Letter", "Sales tax"),
    "MX": ("MXN", "America/Mexico_City", "Letter", "IVA"),
}


@pytest.mark.parametrize("country", KNOWN)
def test_a_country_brings_its_money_clock_paper_and_tax(country):
    habits = habits_of(country)
    said = (habits.currency, habits.time_zone, habits.paper_size, habits.tax_name)
    assert said == KNOWN[country]


def test_every_country_has_a_currency_of_iso_4217_and_a_zone_that_is_known():
    codes = {currency.code for currency in Currency}
    for country, _name in countries("en"):
        habits = habits_of(country)
        assert habits.currency in codes, country
        assert habits.time_zone in time_zones(), country


def test_the_list_of_countries_is_that_of_the_telephone_numbers_plan():
    # Google's libphonenumber knows 245 regions; places without a telephone plan of their own
    # (Antarctica, Bouvet, Pitcairn and the like) are few.
    listed = {country for country, _name in countries("en")}
    assert len(listed & set(phonenumbers.SUPPORTED_REGIONS)) >= 240
    assert listed >= set(TAX_NAME) - {"XK"}  # Kosovo has no code of ISO 3166


def test_inches_and_pounds_only_where_they_are_usual():
    assert (habits_of("US").length_unit, habits_of("US").mass_unit) == ("in", "lb")
    assert (habits_of("GB").length_unit, habits_of("GB").mass_unit) == ("cm", "kg")


def test_without_a_country_what_serves_most_is_taken():
    assert habits_of("") == habits_of("XX")
    assert habits_of("").paper_size == "A4"


def test_countries_are_named_in_the_language_of_the_screens():
    assert dict(countries("de"))["PT"] == Locale("de").territories["PT"] == "Portugal"
    assert dict(countries("de"))["GR"] == "Griechenland"
    assert country_zones()["ES"][0] == "Europe/Madrid"
