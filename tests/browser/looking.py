"""What every page must keep to, and how a page is looked at.

Nothing is written to the console (so the content-security policy refused nothing), nothing must be
scrolled sideways, and axe, which automates rules of WCAG 2.2, finds nothing against it.
"""

from functools import cache
from importlib.resources import files

from playwright.sync_api import Page

PHONE = {"width": 360, "height": 740}
COUNTER = {"width": 1280, "height": 800}
SIDEWAYS = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
# Rows of one list come from one template. A dozen of them show axe all there is to find, and a
# ledger of hundreds would keep it busy for half a minute. Widths are measured before.
ENOUGH_ROWS = """() => {
  for (const list of document.querySelectorAll("tbody, main ul, main ol, main dl, select")) {
    for (const row of [...list.children].slice(12)) row.remove();
  }
}"""
RUN_AXE = """async () => {
  const told = await axe.run(document, {
    runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    resultTypes: ["violations"],
    preload: false, // it would fetch every stylesheet anew, for rules that are not among these
  });
  return told.violations.map((one) => [one.id, one.nodes[0].target.join(" "), one.nodes.length]);
}"""


@cache
def axe_source() -> str:
    """The rules themselves, read from their package once."""
    return (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


def console_of(page: Page) -> list[str]:
    """A list that fills with the errors the page writes to its console."""
    noise: list[str] = []
    page.on("console", lambda said: noise.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: noise.append(str(error)))
    return noise


def found_by_axe(page: Page) -> list[str]:
    """What axe has against the page as it stands now."""
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(axe_source())  # once a page; the second width finds it there
    return [
        f"breaks {rule} at {where} ({times} times)" for rule, where, times in page.evaluate(RUN_AXE)
    ]


def faults_of(page: Page) -> list[str]:
    """What is wrong with the page that is open, at a phone's width and at the counter's."""
    wrong = []
    if not page.title() or page.locator("h1").count() != 1:
        wrong.append("wants a title and one h1")
    sizes = (COUNTER, PHONE)
    for size in sizes:
        page.set_viewport_size(size)
        if (too_wide := page.evaluate(SIDEWAYS)) > 0:
            wrong.append(f"is {too_wide} px wider than a screen of {size['width']} px")
    page.evaluate(ENOUGH_ROWS)
    for size in reversed(sizes):
        page.set_viewport_size(size)
        wrong += found_by_axe(page)
    return wrong


def look_at(page: Page, address: str, noise: list[str], *, status: int = 200) -> list[str]:
    """Open a page and say what is wrong with it."""
    noise.clear()
    page.set_viewport_size(PHONE)
    answer = page.goto(address)
    wrong = [] if answer.status == status else [f"answers {answer.status}"]
    wrong += faults_of(page)
    if status >= 400:  # the browser itself notes such an answer
        noise[:] = [line for line in noise if f"status of {status}" not in line]
    return wrong + [f"says in the console: {line}" for line in noise]
