"""Customers added and changed."""

from django.db import transaction
from django.forms import ModelForm

from orders.models import Customer
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def add_customer(form: ModelForm, *, person: Person) -> Customer:
    """Write a new customer down from a valid form."""
    customer = form.save()
    record_act(person, "add customer", customer, after={"name": customer.name})
    return customer
