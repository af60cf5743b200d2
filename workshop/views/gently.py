"""Pages that anybody may open, answered only so often to one address."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.cache import cache
from django.http import HttpResponse
from django.shortcuts import render


def gently(most: int, *, seconds: int) -> Callable:
    """Answer so many requests of one address in so many seconds; more are turned away (429).

    Counted by each worker for itself, so several of them answer so many times as often; that is
    enough to make guessing an address hopeless and a flood harmless.
    """

    def limited(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def wrapper(request: Any, *args: Any, **kwargs: Any) -> HttpResponse:
            name = f"gently:{view.__name__}:{request.META.get('REMOTE_ADDR', '')}"
            cache.add(name, 0, seconds)
            try:
                asked = cache.incr(name)
            except ValueError:  # it ran out between the two
                asked = 1
            if asked > most:
                answer = render(request, "429.html", status=429)
                answer.headers["Retry-After"] = str(seconds)
                return answer
            return view(request, *args, **kwargs)

        return wrapper

    return limited
