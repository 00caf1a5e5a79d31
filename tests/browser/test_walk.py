"""The whole line as a person walks it, on a phone and at a desk."""

import json
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import fresh_name

PLANNED_WITHIN_MS = 240_000


@pytest.fixture
def job(visit, job_file, tmp_path) -> str:
    """The demo job brought in under a name of its own; its address."""
    name = fresh_name()
    written = json.loads(job_file.read_text()) | {"id": name}
    for hand in written["hands"]:  # people of its own: no other job has issued for them
        hand["id"] = f"{hand['id']}-{name[-6:]}"
    for wish in written["dates"]:
        if "job" in wish:
            wish["job"] = name
    file = Path(tmp_path) / "job.json"
    file.write_text(json.dumps(written))
    visit.sign_in()
    visit.look()
    visit.page.get_by_role("link", name="Bring in a job file").first.click()
    visit.look()
    visit.page.get_by_label(re.compile("file", re.I)).first.set_input_files(file)
    visit.page.get_by_role("button", name="Bring it in").click()
    visit.page.wait_for_url(re.compile(f"/jobs/{name}/"))
    return f"/jobs/{name}/"


def plan_it(visit, job: str, button: str) -> None:
    visit.go(job + "week/")
    visit.page.get_by_role("button", name=button).click()
    expect(visit.page.get_by_role("link", name="Issue this plan")).to_be_visible(
        timeout=PLANNED_WITHIN_MS
    )


def test_a_lead_brings_in_a_job_plans_it_logs_and_plans_again(visit, job):
    page = visit.page
    visit.go(job)
    expect(page.get_by_role("heading", name="Can take the next coat")).to_be_visible()
    visit.look()

    visit.go(job + "week/")
    visit.look()
    plan_it(visit, job, "Plan the week")
    expect(page.get_by_text("as good on dates", exact=False).first).to_be_visible()
    expect(page.get_by_role("heading", name="Day by day")).to_be_visible()
    visit.look()
    page.get_by_role("link", name="Issue this plan").click()
    visit.look()
    page.get_by_role("button", name=re.compile("^Issue plan")).click()
    expect(page.locator(".plan-foot")).to_contain_text("issued")
    visit.look()

    visit.go(job)
    article = page.locator("article").filter(has_text="Lounge").filter(
        has=page.get_by_role("link", name=re.compile("^Coat on"))
    )  # fmt: skip
    name = article.first.get_by_role("heading").inner_text()
    article.first.get_by_role("link", name=re.compile("^Coat on")).click()
    visit.look()
    page.get_by_role("button", name="Coat on").click()
    expect(page.get_by_text("Logged last", exact=False)).to_contain_text(
        name.split(",")[-1].strip(), ignore_case=True
    )
    visit.look()

    visit.go(job + "reading/?room=lounge")
    visit.look()
    page.get_by_label(re.compile("^Humidity")).fill("84")
    page.get_by_label(re.compile("^Temperature")).first.fill("18.5")
    page.get_by_role("button", name="Reading").click()
    expect(page.get_by_text("84").first).to_be_visible()

    plan_it(visit, job, "Plan again")
    expect(page.get_by_role("heading", name=re.compile("What moved"))).to_be_visible()
    visit.look()


def test_a_wrong_reading_is_refused_beside_its_field_and_nothing_typed_is_lost(
    visit, job
):
    page = visit.page
    visit.go(job + "reading/?room=lounge")
    page.get_by_label(re.compile("^Humidity")).fill("105")
    page.get_by_label(re.compile("^Temperature")).first.fill("18.5")
    page.get_by_role("button", name="Reading").click()
    expect(page.get_by_text("105").first).to_be_visible()
    expect(page.get_by_label(re.compile("^Temperature")).first).to_have_value("18.5")
    assert [said for said in visit.said if "422" not in said] == []


def test_a_broken_file_is_refused_with_every_fault_named(visit):
    page = visit.page
    visit.sign_in()
    visit.go("/import/")
    broken = json.dumps({"format": "coat-by-coat/1", "id": "Nope!", "title": ""})
    page.get_by_label(re.compile("text|paste", re.I)).first.fill(broken)
    page.get_by_role("button", name="Bring it in").click()
    expect(page.get_by_text("Nope!").first).to_be_visible()
    expect(page.get_by_text("required").first).to_be_visible()


def test_recipes_show_their_clocks_and_calendars_their_address_once(visit, job):
    page = visit.page
    visit.go(job + "recipes/")
    visit.look()
    page.get_by_role("link", name=re.compile("glaze", re.I)).first.click()
    visit.look()
    visit.go(job + "calendars/")
    visit.look()
    page.get_by_role("button", name=re.compile("calendar of everything")).click()
    shown = page.get_by_label("Address", exact=True)
    expect(shown).to_have_value(re.compile(r"/feeds/[\w-]{20,}\.ics"))
    visit.look()


def test_a_day_is_closed_up_by_name_and_a_tick_taken_back(visit, job):
    page = visit.page
    visit.go(job + "closing-up/")
    visit.look()
    lids = page.get_by_role("button", name=re.compile("^Lids on tight"))
    expect(lids).to_have_attribute("aria-pressed", "false")
    lids.click()
    expect(lids).to_have_attribute("aria-pressed", "true")
    expect(page.get_by_text(re.compile("^Ticked off .* by lead@"))).to_be_visible()
    visit.look()
    lids.click()
    expect(lids).to_have_attribute("aria-pressed", "false")


def test_tins_that_a_lead_gives_are_what_is_ordered(visit, job):
    page = visit.page
    visit.go(job + "quantities/")
    visit.look()
    page.get_by_role("link", name=re.compile("of Dispersion wall paint")).click()
    visit.look()
    page.get_by_label(re.compile("^Sold in")).fill("1 l, 5 l")
    page.get_by_label(re.compile("^Lead time")).fill("4")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text(re.compile("of 5 l"))).to_be_visible()
    with page.expect_download() as taken:
        page.get_by_role("link", name="Take the table").click()
    assert "of 5 l" in Path(taken.value.path()).read_text("utf-8-sig")


def test_a_recipe_gets_a_step_and_a_label_follows_a_sample(visit, job):
    page = visit.page
    visit.go(job + "recipes/strie/")
    page.get_by_role("link", name="Change it").click()
    visit.look()
    page.get_by_role("button", name="Add one after Base 2").click()
    visit.look()
    page.get_by_label("What is done").locator("visible=true").fill("De-nib")
    page.get_by_label(re.compile("^Laying it on")).locator("visible=true").fill("2")
    page.get_by_role("button", name=re.compile("^Up.*A new step")).click()
    page.get_by_role("button", name="Keep it").last.click()
    expect(page.get_by_text("version 2", exact=False).first).to_be_visible()
    expect(page.get_by_text("De-nib").first).to_be_visible()
    visit.look()

    page.get_by_role("link", name="Log a sample of Eggshell base").click()
    visit.look()
    page.get_by_label("Laid at").fill("2026-01-12T08:00")
    page.get_by_label(re.compile("^Temperature")).fill("18")
    page.get_by_label(re.compile("^Humidity")).fill("64")
    page.get_by_label(re.compile("^Takes the next coat")).fill("7 h")
    page.get_by_role("button", name="Log the sample").click()
    visit.look()
    page.locator("[name=how][value=label]").check()
    page.get_by_role("button", name="Let the label follow").click()
    expect(page.get_by_text("follows the sample", exact=False)).to_be_visible()
    visit.look()


def test_the_pages_work_without_script(service, browser, visit):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(service.url + "/sign-in/")
    page.get_by_label("E-mail").fill("nobody@example.com")
    page.get_by_label("Password").fill("wrong")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert")).to_be_visible()
    context.close()


def test_everything_can_be_reached_with_the_keyboard_and_seen_at_320_px(visit, job):
    page = visit.page
    page.set_viewport_size({"width": 320, "height": 640})
    recipe = ("recipes/strie/change/", "materials/eggshell/", "new-recipe/")
    for path in (
        *("", "week/", "recipes/", "calendars/", "reading/", "wall/lounge-n/"),
        *("closing-up/", "quantities/", "quantities/of/wall-paint/"),
        *recipe,
    ):
        visit.go(job + path)
        visit.look()
    visit.go(job)
    reached = set()
    for _ in range(200):
        page.keyboard.press("Tab")
        element = page.evaluate(
            "(() => { const a = document.activeElement; "
            "return a ? a.tagName + ':' + (a.textContent || '').trim() : '' })()"
        )
        reached.add(element)
    text = " ".join(reached)
    assert "Coat on" in text
    assert "Week" in text or "week" in text
