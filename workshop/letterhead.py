"""The workshop as it is written on papers."""

from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.utils import translation

from workshop.models import Business

Asked = ParamSpec("Asked")
Written = TypeVar("Written")


def language_of(business: Business, reader: Any = None) -> str:
    """In which language somebody is written to: in their own, else in the workshop's.

    reader  a customer, whoever else has a language written down, or its code; None for nobody
    """
    own = reader if isinstance(reader, str) else getattr(reader, "language", "")
    return own or business.language


def read_in(business: Business, reader: Any = None) -> translation.override:
    """Within it, words, numbers and days are those of somebody's language."""
    return translation.override(language_of(business, reader))


def written_to(
    reader_of: Callable[..., Any] = lambda *_args, **_more: None,
) -> Callable[[Callable[Asked, Written]], Callable[Asked, Written]]:
    """For what makes a paper: it speaks the language of its reader, whoever prints it.

    reader_of  finds the reader in what the function is given; without one it is the workshop
    """

    def speaks(make: Callable[Asked, Written]) -> Callable[Asked, Written]:
        @wraps(make)
        def made(*args: Asked.args, **more: Asked.kwargs) -> Written:
            with read_in(Business.in_force(), reader_of(*args, **more)):
                return make(*args, **more)

        return made

    return speaks


def party_of(business: Business) -> dict[str, Any]:
    """Who issues a paper, frozen as it is today; without registration no tax number is told."""
    registered = business.tax_registered
    return {
        "name": business.name,
        "address": business.address,
        "email": business.email,
        "phone": business.phone,
        "country": business.country,
        "registered": registered,
        "tax_number": business.tax_number if registered else "",
        "tax_name": business.tax_name,
        "company_number": business.company_number,
        "iban": business.iban,
        "bic": business.bic,
        "invented": business.invented,
    }


def head_of(business: Business, reader: Any = None) -> dict[str, Any]:
    """How any paper is written today, frozen: money, language, sheet, units and issuer."""
    return {
        "currency": business.currency,
        "language": language_of(business, reader),
        "country": business.country,
        "paper_size": business.paper_size,
        "units": [business.length_unit, business.mass_unit],
        "seller": party_of(business),
    }
