"""Move and issue a plan: on a phone and at a desk, by keyboard, at 320 px, on paper."""

import re
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.browser.test_walk import PLANNED_WITHIN_MS, job, plan_it

__all__ = ["job"]  # the fixture


@pytest.fixture
def planned(visit, job) -> str:
    """The demo job with its first plan issued; the week's address."""
    plan_it(visit, job, "Plan the week")
    visit.page.get_by_role("link", name="Issue this plan").click()
    visit.page.get_by_role("button", name="Issue plan 1").click()
    expect(visit.page.locator(".plan-foot")).to_contain_text("issued")
    return job + "week/"


def focused(page: Page) -> str:
    """What the keyboard is on, by its name."""
    return page.evaluate(
        "(() => { const a = document.activeElement; return a ? "
        "(a.getAttribute('aria-label') || a.textContent || a.id || '').trim() "
        ": '' })()"
    )


def tab_to(page: Page, name: str, most: int = 400) -> None:
    """Press Tab until what is named has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if re.search(name, focused(page)):
            return
    pytest.fail(f"{name} was not reached with Tab")


def later(page: Page) -> str:
    """A day after the moment that the move form begins with."""
    first = datetime.fromisoformat(page.get_by_label("Begins").input_value())
    moved = first + timedelta(days=1)
    while moved.weekday() > 4:
        moved += timedelta(days=1)
    return moved.isoformat(timespec="minutes")


def test_a_lead_moves_a_stint_plans_again_and_issues(visit, planned):
    page = visit.page
    visit.go(planned)
    visit.look()
    page.locator("tr.stint td.what a").nth(3).click()
    name = page.get_by_role("heading", level=1).inner_text()
    visit.look()
    start = later(page)
    page.get_by_label("Begins").fill(start)
    page.get_by_role("button", name="See what breaks").click()
    expect(page.get_by_role("status")).to_contain_text("held")
    visit.look()
    page.get_by_role("button", name=re.compile("^Keep it")).click()
    expect(page.locator(".held li")).to_contain_text(name)
    visit.look()

    page.get_by_role("button", name="Plan again").click()
    issue = page.get_by_role("link", name="Issue this plan")
    expect(page.locator(".head-under")).to_contain_text(
        "plan 2, a draft", timeout=PLANNED_WITHIN_MS
    )
    expect(page.get_by_role("heading", name=re.compile("What moved"))).to_be_visible()
    moved = page.locator(".changes li").filter(has_text=name)
    day = datetime.fromisoformat(start)
    expect(moved.first).to_contain_text(f"{day:%a} {day.day} {day:%b %H:%M}")
    visit.look()
    page.set_viewport_size({"width": 320, "height": 640})
    visit.look()

    issue.click()
    expect(page.locator(".for-hands")).to_contain_text(name)
    visit.look()
    page.get_by_role("button", name="Issue plan 2").click()
    expect(page.locator(".plan-foot")).to_contain_text("plan 2, issued")
    page.get_by_role("button", name="Take it off").click()
    expect(page.locator(".held")).to_have_count(0)
    visit.look()


def test_a_stint_is_held_and_a_hand_kept_off_by_keyboard_alone(visit, planned):
    page = visit.page
    visit.go(planned)
    wide = page.viewport_size["width"] > 600
    tab_to(page, "hold, move or forbid" if wide else "^(Base 1|Scribe and fix)$")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/week/stint/"))
    address = page.url
    tab_to(page, "^See what breaks$")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("held")
    tab_to(page, "^Keep it")
    page.keyboard.press("Enter")
    expect(page.locator(".held li")).to_have_count(1)

    page.goto(address)
    tab_to(page, "^hands_hands_3$")
    page.keyboard.press("Space")
    tab_to(page, "^See who is left$")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status")).to_contain_text("not by Finish carpenter")
    visit.look()
    tab_to(page, "^Keep it")
    page.keyboard.press("Enter")
    expect(page.locator(".held li")).to_have_count(2)
    visit.look()
    prints(page)


def prints(page: Page) -> None:
    """On paper the drawing and the list, and nothing that is pressed."""
    page.emulate_media(media="print")
    for gone in (".places", ".foot", ".buttons", ".turn-week", ".held form"):
        for part in page.locator(gone).all():
            expect(part).to_be_hidden()
    expect(page.locator(".week-drawing svg")).to_be_visible()
    expect(page.locator("table.stints")).to_be_visible()
    page.emulate_media(media="screen")
    sheets = {}
    for paper in ("A4", "A3"):
        printed = page.pdf(format=paper, landscape=True, print_background=True)
        sheets[paper] = len(re.findall(rb"/Type\s*/Page\b", printed))
    assert 2 <= sheets["A3"] <= sheets["A4"] <= 14
