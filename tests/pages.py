"""A page as a browser opened it, for tests that send a form of their own."""

import re
from typing import Any


def marks_of(client: Any, path: str) -> dict[str, str]:
    """What the page's form says it was filled from; without that nothing is saved."""
    page = client.get(path).content.decode()
    tags = re.findall(r'<input\b[^>]*name="(?:seen_mark|version)"[^>]*>', page)
    return {
        re.search(r'name="([^"]+)"', tag)[1]: re.search(r'value="([^"]*)"', tag)[1]  # type: ignore[index]
        for tag in tags
    }
