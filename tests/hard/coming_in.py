"""Somebody who signs in, for the tests of coming in and staying in."""

from django.urls import reverse

PASSWORD = "sea glass 42"


def sign_in(client, name="owner", password=PASSWORD, **extra):
    return client.post(
        reverse("workshop:sign_in"), {"username": name, "password": password}, **extra
    )


def is_in(client) -> bool:
    return client.get(reverse("workshop:own_page")).status_code == 200
