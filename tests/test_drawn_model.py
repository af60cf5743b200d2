"""The drawn pages show the models as they are."""

import re

import pytest
from django.conf import settings

from orders.models import Order, WorkOrder
from stock.models import KilnLoad
from workshop.management.commands.draw_model import PLACE, model_page


def test_the_drawn_model_is_the_one_of_the_code():
    drawn = PLACE.read_text(encoding="utf-8")
    assert drawn == model_page(), "run: python3 manage.py draw_model"


def test_the_drawing_knows_both_ends_of_a_key():
    page = model_page()
    assert "    Order ||--o{ OrderLine : order" in page
    assert "    Kiln ||--o{ KilnLoad : kiln" in page


@pytest.mark.parametrize(
    ("title", "states"),
    [("An order", Order.State), ("A work order", WorkOrder.Step), ("A load", KilnLoad.State)],
)
def test_every_state_stands_in_its_drawing(title, states):
    told = (settings.BASE_DIR / "DEVELOPERS.md").read_text(encoding="utf-8")
    drawing = told.partition(f"{title}:\n\n```mermaid\nstateDiagram-v2\n")[2].partition("```")[0]
    named = set(re.findall(r"[a-z]+(?= -->)|(?<=--> )[a-z]+", drawing))
    assert named == set(states.values)
