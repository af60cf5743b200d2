"""The pages of keeping safe, in a real browser: errors, the second step, copies, devices.

V3.4.3 (ASVS 5.0): every page opens with no violation of its content-security policy; the walk over
all the others stands in test_every_page.py.
"""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from tests.browser.looking import console_of, look_at
from tests.builders import make_business, make_person
from workshop.services.copies import back_up

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def owner_page(transactional_db, signed_in):
    make_business()
    return signed_in(make_person("owner"))


@pytest.fixture
def violations(context):
    """Every refusal of the content-security policy, as the browser itself reports it."""
    found: list[str] = []
    context.expose_function("tellViolation", lambda told: found.append(told))
    context.add_init_script(
        "document.addEventListener('securitypolicyviolation', event =>"
        " tellViolation(`${event.violatedDirective} ${event.blockedURI}`))"
    )
    return found


def test_pages_of_keeping_safe_are_in_order(
    violations, owner_page, live_server, settings, tmp_path
):
    settings.COPIES_DIR = tmp_path / "copies"
    made = back_up(settings.COPIES_DIR, keep=2)
    page, noise = owner_page, console_of(owner_page)
    for name, *args in (
        ("workshop:own_page",),
        ("workshop:second_step",),
        ("workshop:second_step_begin",),
        ("workshop:copy_list",),
        ("workshop:copy_check", made.name),
        ("workshop:business",),
        ("workshop:act_list",),
    ):
        address = live_server.url + reverse(name, args=args)
        assert look_at(page, address, noise) == [], name
    page.goto(live_server.url + reverse("workshop:second_step_begin"))
    page.get_by_role("button", name="Show the picture").click()
    expect(page.locator(".code-picture svg")).to_have_count(1)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert violations == []


def test_the_policy_stops_code_that_got_into_a_page(violations, owner_page, live_server):
    """The guard behind the guard: markup that slipped through would still not run."""
    page = owner_page
    page.goto(live_server.url + reverse("workshop:own_page"))
    ran = page.evaluate(
        "() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
        " document.body.append(s); document.body.insertAdjacentHTML('beforeend',"
        " '<img src=x onerror=\"window.ran = 2\">'); return window.ran || 0 }"
    )
    page.wait_for_timeout(300)
    assert ran == 0 and page.evaluate("window.ran || 0") == 0
    assert any(told.startswith("script-src") for told in violations)


def test_an_unknown_address_and_an_old_form_look_like_ours(owner_page, live_server):
    page = owner_page
    for width in (360, 1280):
        page.set_viewport_size({"width": width, "height": 740})
        answer = page.goto(live_server.url + "/no/such/page/")
        assert answer.status == 404
        assert page.locator("h1").inner_text() == "Nothing stands here"
    page.context.clear_cookies(name="csrf")
    page.goto(live_server.url + reverse("workshop:own_page"))
    page.context.clear_cookies(name="csrf")
    page.get_by_role("button", name="Begin with a telephone").click()
    expect(page.locator("h1")).to_have_text("This form is too old")
