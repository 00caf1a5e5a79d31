"""What goes out, in a real browser: links looked at, the line cut, sheets printed."""

import json
import re
import socket
import sqlite3
import threading
import time
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import fresh_name

PLANNED_WITHIN_MS = 240_000


@pytest.fixture
def walls(visit, job_file, tmp_path) -> str:
    """The path of a hand's walls, of a job of this week that is planned and issued."""
    name = fresh_name()
    written = json.loads(job_file.read_text()) | {"id": name}
    for hand in written["hands"]:  # people of its own: no other job has issued for them
        hand["id"] = f"{hand['id']}-{name[-6:]}"
    for wish in written["dates"]:
        if "job" in wish:
            wish["job"] = name
    file = Path(tmp_path) / "job.json"
    file.write_text(json.dumps(written))
    page = visit.page
    visit.sign_in()
    visit.go("/import/")
    page.get_by_label(re.compile("file", re.I)).first.set_input_files(file)
    page.get_by_role("button", name="Bring it in").click()
    visit.go(f"/jobs/{name}/week/")
    page.get_by_role("button", name="Plan the week").click()
    issue = page.get_by_role("link", name="Issue this plan")
    expect(issue).to_be_visible(timeout=PLANNED_WITHIN_MS)
    issue.click()
    page.get_by_role("button", name=re.compile("^Issue plan")).click()
    expect(page.locator(".plan-foot")).to_contain_text("issued")
    visit.go(f"/jobs/{name}/calendars/")
    visit.look()
    button(page, "Make an address").click()
    visit.look()
    address = page.get_by_label("Address", exact=True).input_value()
    visit.job = name
    return urlsplit(address).path


class Line:
    """The line between a phone and the service; it can be cut and mended."""

    def __init__(self, port: int) -> None:
        self.service = ("127.0.0.1", port)
        self.open: list[socket.socket] = []
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = self.listening.getsockname()[1]
        self.whole, self.deaf = True, False
        threading.Thread(target=self._listen, daemon=True).start()

    def cut(self) -> None:
        """From now on whoever rings is hung up on."""
        self.whole = False
        for end in self.open:
            end.close()
        self.open.clear()

    def mend(self) -> None:
        """Back again."""
        self.whole, self.deaf = True, False

    def close(self) -> None:
        self.cut()
        self.listening.close()

    def _listen(self) -> None:
        while True:
            try:
                phone, _ = self.listening.accept()
            except OSError:
                return
            if not self.whole:
                phone.close()
                continue
            service = socket.create_connection(self.service)
            self.open += [phone, service]
            for ends in ((phone, service), (service, phone)):
                threading.Thread(target=self._carry, args=ends, daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        try:
            while piece := one.recv(65536):
                if not (self.deaf and one.getpeername() == self.service):
                    other.sendall(piece)
        except OSError:
            pass
        for end in (one, other):
            end.close()


@pytest.fixture
def line(service, visit):
    """The phone reaches the service by this line alone."""
    made = Line(service.port)
    visit.url = f"http://127.0.0.1:{made.port}"
    yield made
    made.close()


def button(page, name: str, about: str = "My walls"):
    """The first of the buttons about a hand's walls, or about another link."""
    return page.get_by_role("button", name=re.compile(f"^{name} ?: {about}")).first


def wait_for(holds, seconds: float = 20) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.1)


def sent(visit, data: Path) -> int:
    """How many taps the service has of this job."""
    with sqlite3.connect(data / "coat.sqlite3", timeout=20) as store:
        return store.execute(
            "select count(*) from jobs_tap t join jobs_job j on j.id = t.job_id "
            "where j.key = ?",
            (visit.job,),
        ).fetchone()[0]


def tap_reading(page) -> None:
    page.locator("summary", has_text="Reading").click()
    page.get_by_role("button", name="More: Temperature").click()
    for _ in range(2):
        page.get_by_role("button", name="More: Humidity").click()
    page.get_by_role("button", name="Send").last.click()


def test_a_hand_reads_and_taps_without_a_line_and_it_is_one_record(
    service, visit, line, walls
):
    page, data = visit.page, service.log.parent
    visit.go(walls)
    visit.look()
    page.set_viewport_size({"width": 320, "height": 640})
    for summary in page.locator("summary").all():
        summary.click()
    visit.look()
    page.evaluate("navigator.serviceWorker.ready")
    page.wait_for_function(
        "async () => (await (await caches.open((await caches.keys())[0])).keys())"
        ".length >= 3"
    )

    line.cut()
    page.reload()
    expect(page.locator("#old-copy")).to_be_visible()
    expect(page.locator("#old-copy")).to_contain_text("No line. This is the copy of")
    visit.said.clear()
    tap_reading(page)
    expect(page.locator("#taps")).to_contain_text("kept on this phone")
    page.reload()  # and it is still there
    expect(page.locator("#taps")).to_contain_text("kept on this phone")
    assert sent(visit, data) == 0

    line.mend()
    expect(page.locator("#sent + ul")).to_contain_text("51 %", timeout=30_000)
    expect(page.locator("#old-copy")).to_be_hidden()
    expect(page.locator("#taps")).to_be_hidden()
    page.reload()
    assert sent(visit, data) == 1


def test_an_answer_that_is_lost_on_the_way_makes_no_second_record(
    service, visit, line, walls
):
    page, data = visit.page, service.log.parent
    visit.go(walls)
    line.deaf = True  # what is sent arrives, and no answer ever comes back
    tap_reading(page)
    expect(page.locator("#taps")).to_contain_text("kept on this phone")
    wait_for(lambda: sent(visit, data) == 1)
    line.cut()
    line.mend()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("#sent + ul")).to_contain_text("51 %", timeout=30_000)
    assert sent(visit, data) == 1


def test_what_a_phone_kept_is_gone_when_the_link_is_switched_off(visit, line, walls):
    page = visit.page
    visit.go(walls)
    page.evaluate("navigator.serviceWorker.ready")
    visit.go(f"/jobs/{visit.job}/calendars/")
    button(page, "Switch it off").click()
    visit.go(walls)
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "This address was switched off"
    )
    page.wait_for_function("async () => (await caches.keys()).length === 0")
    line.cut()
    with pytest.raises(Exception, match="ERR_"):
        visit.go(walls)


def test_the_page_works_without_script(service, browser, visit, walls):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(service.url + walls)
    page.locator("summary", has_text="Reading").click()
    page.get_by_label("Temperature").select_option("19.5")
    page.get_by_label("Humidity").select_option("72")
    page.get_by_role("button", name="Send").last.click()
    expect(page.locator("#sent + ul")).to_contain_text("19.5 °C, 72 %")
    context.close()


def test_a_client_and_a_printer_get_what_is_theirs(visit, walls):
    page = visit.page
    for kind in ("days", "week", "signs"):
        visit.go(f"/jobs/{visit.job}/paper/{kind}/")
        visit.look()
        page.set_viewport_size({"width": 320, "height": 640})
        visit.look()
        page.emulate_media(media="print")
        expect(page.locator(".paper-sheet").first).to_be_visible()
        expect(page.locator(".places")).to_be_hidden()
        page.emulate_media(media="screen")
    visit.go(f"/jobs/{visit.job}/calendars/")
    button(page, "Make an address", "The client").click()
    address = page.get_by_label("Address", exact=True).input_value()
    page.context.clear_cookies()
    visit.go(urlsplit(address).path)
    expect(page.get_by_role("heading", level=1)).to_have_text("Your rooms")
    visit.look()
