"""Pictures of every page, to be looked at one by one: three widths, light and dark.

    python -m pytest tests/browser/pictures.py -q

They lie in .pytest_cache/strandwork/pictures/, named by page, width and light. `PICTURES="firing
home" python -m pytest …` takes only pages whose name holds one of these words. No test: nothing is
judged here, and a usual run does not collect this file.
"""

import os

import pytest

from tests.browser.test_every_page import ROLES, follow_links
from tests.conftest import KEPT

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WIDTHS = ((360, 740), (768, 1024), (1280, 800))
FOLDER = KEPT / "pictures"


def wanted(kind: str) -> bool:
    words = os.environ.get("PICTURES", "").split()
    return not words or any(word in kind for word in words)


@pytest.mark.parametrize("light", ["light", "dark"])
def test_take_pictures(demo, signed_in, live_server, light):
    FOLDER.mkdir(parents=True, exist_ok=True)
    found = {("owner", kind): path for kind, path in follow_links("owner").items() if path}
    found |= {(role, "orders:home"): "/" for role in ROLES}
    for (role, kind), path in sorted(found.items()):
        if not wanted(kind):
            continue
        page = signed_in(role)
        page.emulate_media(color_scheme=light)
        for width, height in WIDTHS:
            page.set_viewport_size({"width": width, "height": height})
            page.goto(live_server.url + path)
            name = f"{kind.replace(':', '-')}-{role}-{width}-{light}.png"
            page.screenshot(path=FOLDER / name, full_page=True)
        page.close()
