"""A browser with scripts, driven as `tests/plain_pages.py` is: by labels, links and buttons."""

import re

from playwright.sync_api import Locator, Page, expect


class BrowserPages:
    """What one person does, page after page, and how much of it they had to do."""

    def __init__(self, page: Page, base: str) -> None:
        self.page, self.base = page, base
        self.saved: list[str] = []
        self.answers = 0
        self.seen: list[str] = []
        page.on("load", lambda _page: self.seen.append(page.url))

    def open(self, address: str) -> "BrowserPages":
        self.page.goto(f"{self.base}{address}")
        return self

    def follow(self, words: str) -> "BrowserPages":
        self.page.get_by_role("link", name=words).first.click()
        self.page.wait_for_load_state()
        return self

    def fill(self, label: str, value: str | bool = True) -> "BrowserPages":
        self.answers += 1
        box = self._box(label)
        kind = box.evaluate("box => box.tagName == 'SELECT' ? 'select' : box.type")
        if kind == "select":
            box.select_option(label=str(value))
        elif kind in {"radio", "checkbox"}:
            box.check()
        else:
            box.fill(str(value))
        return self

    def press(self, words: str) -> "BrowserPages":
        address = self.page.url
        self.page.get_by_role("button", name=re.compile(f"^{re.escape(words)}")).last.click()
        self.page.wait_for_load_state()
        expect(self.page.locator("h1")).to_be_visible()
        if self.page.url != address:
            self.saved.append(address)
        return self

    def first_customer(self, name: str) -> "BrowserPages":
        """At the counter: write a name nobody has yet, and add it."""
        self.fill("Who is it for?", name)
        self.page.get_by_role("button", name=re.compile(f"^Add “{name}”")).click()
        self.page.locator("[name=new-name]").wait_for()
        return self

    def first_line(self, design: str, strands: str) -> "BrowserPages":
        """At the counter: choose a design, say how many, and look what it comes to."""
        self.page.get_by_role("button", name=re.compile(f"^{design}")).first.click()
        box = self.page.get_by_label(f"{design}: strands")
        box.wait_for()
        box.fill(strands)
        box.blur()
        self.answers += 1
        expect(self.page.locator("#dock-figures .answer-value").last).to_contain_text("255.00")
        return self

    @property
    def heading(self) -> str:
        return self.page.locator("h1").inner_text()

    def is_at(self, heading: str) -> bool:
        return self.heading == heading

    @property
    def words(self) -> str:
        return self.page.locator("main").inner_text()

    @property
    def complaints(self) -> str:
        found = self.page.locator(".error-summary")
        return found.first.inner_text() if found.count() else ""

    def _box(self, label: str) -> Locator:
        # However its words are laid out in the page's own text.
        words = r"\s+".join(map(re.escape, label.split()))
        said = re.compile(rf"^\s*{words}", re.IGNORECASE)
        # A box, not a group of buttons that is named alike.
        boxes = self.page.locator("input, select, textarea")
        return self.page.get_by_label(said).and_(boxes).first
