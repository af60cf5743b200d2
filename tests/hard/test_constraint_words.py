"""What the database refuses, a person is told in a sentence; the sentence itself must be sound."""

from django.apps import apps
from django.db.models import CheckConstraint, UniqueConstraint

from tests.hard.world import OWN_APPS


def test_every_constraint_can_say_why_it_refuses():
    # Django fills the name into the sentence by %, so a lone "100 %" in it would break the form.
    told = 0
    for app in OWN_APPS:
        for model in apps.get_app_config(app).get_models():
            for constraint in model._meta.constraints:
                assert isinstance(constraint, (CheckConstraint, UniqueConstraint))
                sentence = str(constraint.get_violation_error_message())
                assert "%%" not in sentence
                told += 1
    assert told > 40
