"""A browser without scripts: it opens pages, fills boxes by their labels and presses buttons."""

import re
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
        return self.show(answer, address)

    def follow(self, words: str) -> "PlainPages":
        """Go where a link leads that is written so."""
        for link in self.page.iter("a"):
            if self._fits(re.search, words, _words(link)):
                return self.open(link.get("href"))
        raise AssertionError(f"no link “{words}” on {self.address}: {self.words}")

    def fill(self, label: str, value: str | bool = True) -> "PlainPages":
        """Answer the box of this label: type, choose from its list by the words, tick or untick."""
        box = self._box(label)
        self.answers += 1
        if box.tag == "select":
            chosen = [
                each
                for each in box.iter("option")
                if each.get("value") == value or self._fits(re.fullmatch, value, _words(each))
            ]
            assert chosen, f"“{value}” is not on the list of “{label}”"
            box.value = chosen[0].get("value")
        elif box.get("type") == "radio":
            for other in self._form_of(box).inputs[box.name]:
                other.checked = other is box
        elif box.get("type") == "checkbox":
            box.checked = value is True
        else:
            box.value = str(value)
        return self

    def press(self, words: str) -> "PlainPages":
        """Press a button; what it sends must be taken, or what the page says against it is told."""
        button = self._button(words)
        form = self._form_of(button)
        said = self._values(form)
        if button.get("name"):
            said.setdefault(button.get("name"), []).append(button.get("value") or "")
        address = button.get("formaction") or form.get("action") or self.address
        if (button.get("formmethod") or form.method).upper() == "GET":
            return self.show(self.client.get(address, said, follow=True), address)
        answer = self.client.post(address, said, follow=True)
        self.show(answer, address)
        if answer.redirect_chain:
            self.saved.append(address)
        return self

    def first_customer(self, name: str) -> "PlainPages":
        """At the counter: write a name nobody has yet, and add it."""
        return self.fill("Who is it for?", name).press("Find").press(f"Add “{name}”")

    def first_line(self, design: str, strands: str) -> "PlainPages":
        """At the counter: choose a design, say how many, and look what it comes to."""
        return self.press(design).fill(f"{design}: strands", strands).press("Work it out")

    @property
    def heading(self) -> str:
        return _words(self.page.find(".//h1"))

    @property
    def words(self) -> str:
        """All that can be read in the middle of the page."""
        return _words(self.page.find(".//main"))

    @property
    def complaints(self) -> str:
        """What the page says against what was typed."""
        return " ".join(_words(said) for said in self.page.find_class("error-summary"))

    def show(self, answer: Any, address: str) -> "PlainPages":
        """Go on from an answer that came."""
        self.status = answer.status_code
        self.address = answer.redirect_chain[-1][0] if answer.redirect_chain else address
        self.page = lxml.html.fromstring(answer.content.decode())
        return self

    def is_at(self, heading: str) -> bool:
        return self._fits(re.fullmatch, heading, self.heading)

    def says(self, english: str) -> bool:
        """Whether it can be read in the middle of the page."""
        return self._fits(re.search, english, self.words)

    def patterns(self, english: str) -> list[str]:
        """How the page says it, the likeliest first; in English as it stands."""
        return [re.escape(english)]

    def _fits(self, how: Any, english: str, text: str) -> bool:
        return any(how(each, text, re.IGNORECASE) for each in self.patterns(english))

    def _box(self, label: str) -> Any:
        for pattern in self.patterns(label):
            for written in self.page.iter("label"):
                if re.match(pattern, _words(written), re.IGNORECASE):
                    box = written.for_element
                    if box is None:
                        box = next(iter(written.xpath(".//input | .//select | .//textarea")))
                    return box
            for box in self.page.xpath("//*[@aria-label]"):
                if re.match(pattern, box.get("aria-label"), re.IGNORECASE):
                    return box
        raise AssertionError(f"no box “{label}” on {self.address}: {self.words}")

    def _button(self, words: str) -> Any:
        for pattern in self.patterns(words):
            for button in self.page.iter("button"):
                if re.match(pattern, _words(button)) or re.fullmatch(
                    pattern, button.get("aria-label") or ""
                ):
                    return button
        raise AssertionError(f"no button “{words}” on {self.address}: {self.words}")

    def _form_of(self, box: Any) -> Any:
        if named := box.get("form"):
            return self.page.get_element_by_id(named)
        return next(box.iterancestors("form"), None)

    def _values(self, form: Any) -> dict[str, list[Any]]:
        """What a browser sends of a form, boxes elsewhere on the page that belong to it too."""
        said: dict[str, list[Any]] = {}
        for box in self.page.iter("input", "select", "textarea"):
            name, kind = box.get("name"), box.get("type")
            unsent = kind in {"submit", "button", "file"} or box.get("disabled") is not None
            if not name or unsent or self._form_of(box) is not form:
                continue
            if kind in {"checkbox", "radio"}:
                if box.checked:
                    said.setdefault(name, []).append(box.get("value") or "on")
            else:
                said.setdefault(name, []).append(box.value or "")
        return said


def _words(element: Any) -> str:
    return " ".join(element.text_content().split())
