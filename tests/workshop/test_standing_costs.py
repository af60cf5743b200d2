"""What the workshop costs beside glass, fuel and pay: typed, and worked out from hours.

Source of the employer's share: ILO resolution on statistics of labour cost, 11th ICLS 1966,
classes II (pay for time not worked) and VI (employer's social security); 2,080 hours paid, 1,832
worked and 23.75 % (Portugal's general rate for employers) make 0.405022.
"""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.builders import make_person
from tests.pages import marks_of
from workshop.models import StandingCost

pytestmark = pytest.mark.django_db


def write(client, **typed):
    client.force_login(make_person("owner"))
    usual = {"valid_from": "2026-01-01", "workshop_month": "520", "office_month": "40"}
    return client.post(reverse("workshop:standing_cost_add"), usual | typed)


@pytest.mark.parametrize(
    ("typed", "share"),
    [
        ({"employer_share": "25"}, "0.25"),
        ({"contributions": "23.75", "paid_hours": "2080", "worked_hours": "1832"}, "0.40502"),
        ({"contributions": "23.75"}, "0.2375"),  # paid for hours worked only
        ({"paid_hours": "2080", "worked_hours": "1664"}, "0.25"),  # 2080 ÷ 1664 − 1
    ],
)
def test_the_employers_share_is_typed_or_worked_out(client, typed, share):
    assert write(client, **typed).status_code == 302
    assert StandingCost.objects.get().employer_share == Decimal(share)


def test_one_that_stands_there_is_worked_out_anew(client):
    row = StandingCost.objects.create(valid_from="2026-01-01", employer_share=Decimal("0.25"))
    client.force_login(make_person("owner"))
    url = reverse("workshop:standing_cost_change", args=[row.pk])
    typed = {"valid_from": "2026-01-01", "workshop_month": "0", "office_month": "0"}
    typed |= {"employer_share": "25", "contributions": "20"} | marks_of(client, url)
    answer = client.post(url, typed)
    assert answer.status_code == 302, answer.context["form"].errors
    row.refresh_from_db()
    assert row.employer_share == Decimal("0.2")


@pytest.mark.parametrize(
    ("typed", "box", "said"),
    [
        ({}, "employer_share", "0 if none"),
        ({"paid_hours": "2080"}, "worked_hours", "Write both"),
        ({"worked_hours": "1832"}, "paid_hours", "Write both"),
        ({"paid_hours": "1832", "worked_hours": "2080"}, "worked_hours", "No more hours"),
        ({"employer_share": "25", "contributions": "20"}, "employer_share", "either"),
    ],
)
def test_what_contradicts_itself_is_asked_about(client, typed, box, said):
    answer = write(client, **typed)
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors[box])
    assert not StandingCost.objects.exists()
    for name, value in typed.items():
        assert f'value="{value}"' in answer.content.decode(), name
