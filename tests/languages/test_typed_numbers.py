"""A typed number is read by the language of whoever types it, never a thousand times too large.

How each language writes numbers: CLDR 47 as Babel carries it (`Locale.number_symbols`).
"""

import re
from decimal import Decimal

import pytest
from babel import Locale
from babel.numbers import format_decimal
from django.core.exceptions import ValidationError
from django.utils import translation

from workshop.form_fields import (
    CountField,
    LengthField,
    MassField,
    MoneyBox,
    NumberBox,
    PercentField,
)
from workshop.formats import in_a_box, written_as
from workshop.languages import CODES
from workshop.models import Business

MARK = {"en": ".", "fr": ",", "pt": ",", "es": ",", "de": ","}


@pytest.fixture(autouse=True)
def some_workshop():
    with written_as(Business()):
        yield


def test_every_language_of_ours_is_known_with_its_own_mark():
    assert {code: Locale.parse(code).number_symbols["latn"]["decimal"] for code in CODES} == MARK


@pytest.mark.parametrize("code", CODES)
def test_what_a_language_writes_it_reads_again(code):
    """Also with its marks between thousands, as somebody copies a figure from a paper."""
    with translation.override(code):
        for number in ("0.5", "12.5", "1234.5", "1234567.25"):
            wanted = Decimal(number)
            assert MoneyBox().clean(in_a_box(wanted)) == wanted
            assert MoneyBox().clean(MoneyBox().prepare_value(wanted)) == wanted
            assert NumberBox().clean(format_decimal(wanted, locale=code)) == wanted
        assert MassField().clean(MassField().prepare_value(1250)) == 1250
        length = LengthField()
        assert length.clean(length.prepare_value(Decimal("12.125"))) == Decimal("12.125")
        assert PercentField().clean(PercentField().prepare_value(Decimal("0.0825"))) == Decimal(
            "0.0825"
        )


@pytest.mark.parametrize("code", CODES)
def test_three_figures_after_the_other_mark_are_asked_about(code):
    """1.250 kg of a scale and 1.250 kg of a German are a thousand times apart."""
    own = MARK[code]
    other = {".": ",", ",": "."}[own]
    with translation.override(code):
        for box in (MoneyBox(), NumberBox(), MassField(unit="g"), LengthField()):
            with pytest.raises(ValidationError) as refused:
                box.clean(f"1{other}250")
            assert f"1{own}25" in refused.value.messages[0]
            assert "1250" in refused.value.messages[0]
        assert MassField().clean(f"1{own}250 kg") == 1250
        assert MoneyBox().clean(f"1{own}250") == Decimal("1.25")


@pytest.mark.parametrize("code", CODES)
def test_the_other_mark_before_one_or_two_figures_has_one_reading(code):
    with translation.override(code):
        for text in ("12,5", "12.5"):
            assert MoneyBox().clean(text) == Decimal("12.5")
            assert MassField().clean(f"{text} kg") == 12_500


def test_boxes_are_filled_as_the_language_writes():
    with translation.override("de"):
        assert MoneyBox().prepare_value(Decimal("1234.5")) == "1234,50"
        assert MassField().prepare_value(1250) == "1,25 kg"
        assert LengthField().prepare_value(Decimal("12.5")) == "12,5 mm"
        assert PercentField().prepare_value(Decimal("0.0825")) == "8,25"
    assert MoneyBox().prepare_value(Decimal("1234.5")) == "1234.50"
    assert LengthField().prepare_value(Decimal("12.125")) == "12.125 mm"


def test_what_is_no_number_is_said_at_its_box():
    with translation.override("de"):
        for text in ("zwölf", "1.2.3", "1,2,3", "12 Äpfel", "NaN"):
            with pytest.raises(ValidationError):
                MoneyBox().clean(text)


@pytest.mark.parametrize("code", CODES)
def test_what_a_box_proposes_in_words_it_reads(code):
    """The examples that refusals give, as their translators wrote them."""
    for english, box, meant in (
        ("200 or 2 gross", CountField(), (200, 288)),
        ("40 cm or 16 in", LengthField(), (400, Decimal("406.4"))),
        ("2.5 kg or 3 lb", MassField(), (2500, 1361)),
    ):
        with translation.override(code):
            told = re.fullmatch(r"(\S+(?: [^\d\s]+)?) \w+ (\d.+)", translation.gettext(english))
            assert told is not None
            assert tuple(box.clean(text) for text in told.groups()) == meant
