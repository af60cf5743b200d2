"""A browser without scripts: it opens pages, fills boxes by their labels and presses buttons."""

from typing import Any

import lxml.html
from django.test import Client


class PlainPages:
    """What one person does, page after page, and how much of it they had to do.

    `saved` counts the pages that were sent and kept, `answers` the boxes filled, ticked or chosen.
    What stands in a box already goes along as it is, as any browser sends it.
    """

    def __init__(self, client: Client) -> None:
        self.client = client
        self.address = ""
        self.saved: list[str] = []
        self.answers = 0

    def open(self, address: str) -> "PlainPages":
        answer = self.client.get(address, follow=True)
        assert answer.status_code == 200, f"{address} answers {answer.status_code}"
        return self._show(answer, address)

    def follow(self, words: str) -> "PlainPages":
        """Go where a link leads that is written so."""
        for link in self.page.iter("a"):
            if words in " ".join(link.text_content().split()):
                return self.open(link.get("href"))
        raise AssertionError(f"no link “{words}” on {self.address}: {self.words}")

    def fill(self, label: str, value: str | bool = True) -> "PlainPages":
        """Answer the box of this label: type, choose from its list by the words, tick or untick."""
        box = self._box(label)
        self.answers += 1
        if box.tag == "select":
            chosen = [o for o in box.iter("option") if value in (o.get("value"), _words(o))]
            assert chosen, f"“{value}” is not on the list of “{label}”"
            box.value = chosen[0].get("value")
        elif box.get("type") == "radio":
            self._form_of(box).fields[box.name] = box.get("value")
        elif box.get("type") == "checkbox":
            box.checked = bool(value)
        else:
            box.value = str(value)
        return self

    def press(self, words: str) -> "PlainPages":
        """Press a button; what it sends must be taken, or what the page says against it is told."""
        button = self._button(words)
        form = self._form_of(button)
        sent: list[tuple[str, Any]] = list(form.form_values())
        if button.get("name"):
            sent.append((button.get("name"), button.get("value") or ""))
        said: dict[str, list[Any]] = {}
        for name, value in sent:
            said.setdefault(name, []).append(value)
        address = button.get("formaction") or form.get("action") or self.address
        if (button.get("formmethod") or form.method).upper() == "GET":
            return self._show(self.client.get(address, said, follow=True), address)
        answer = self.client.post(address, said, follow=True)
        self._show(answer, address)
        if answer.redirect_chain:
            self.saved.append(address)
        return self

    @property
    def words(self) -> str:
        """All that can be read in the middle of the page."""
        return _words(self.page.find(".//main"))

    @property
    def complaints(self) -> str:
        """What the page says against what was typed."""
        return " ".join(_words(said) for said in self.page.find_class("error-summary"))

    def _show(self, answer: Any, address: str) -> "PlainPages":
        self.status = answer.status_code
        self.address = answer.redirect_chain[-1][0] if answer.redirect_chain else address
        self.page = lxml.html.fromstring(answer.content.decode())
        return self

    def _box(self, label: str) -> Any:
        for written in self.page.iter("label"):
            if _words(written).startswith(label):
                box = written.for_element
                if box is None:
                    box = next(iter(written.xpath(".//input | .//select | .//textarea")))
                return box
        for box in self.page.xpath("//*[@aria-label]"):
            if box.get("aria-label").startswith(label):
                return box
        raise AssertionError(f"no box “{label}” on {self.address}: {self.words}")

    def _button(self, words: str) -> Any:
        for button in self.page.iter("button"):
            if _words(button).startswith(words) or (button.get("aria-label") or "") == words:
                return button
        raise AssertionError(f"no button “{words}” on {self.address}: {self.words}")

    def _form_of(self, box: Any) -> Any:
        if named := box.get("form"):
            return self.page.get_element_by_id(named)
        return next(box.iterancestors("form"))


def _words(element: Any) -> str:
    return " ".join(element.text_content().split())
