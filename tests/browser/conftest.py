"""A real browser on the whole service, started as a person starts it."""

import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect, sync_playwright

from jobs.demo_job import ZONE, demo_monday, marram_house
from scheduling.job_file import write_job

ROOT = Path(__file__).parents[2]
EMAIL, PASSWORD = "lead@example.com", "oak-graining-comb-7"
PHONE, DESK = (390, 844), (1280, 900)
# Debian's Chromium; no traffic of its own, and root needs --no-sandbox.
CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]


class Service:
    """``manage.py serve`` on an empty store, with one company and its lead."""

    def __init__(self, data: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"
        self.log = data / "serve.log"
        self.own = own = {
            "PATH": os.environ["PATH"],
            "HOME": os.environ.get("HOME", str(data)),
            "DATA_DIR": str(data),
            "SITE_URL": self.url,
            "PYTHONTZPATH": "",
        }
        manage = [sys.executable, "manage.py"]
        subprocess.run([*manage, "migrate", "-v0"], cwd=ROOT, env=own, check=True)
        self.start_company("Shore Finishing", EMAIL)
        self.process = subprocess.Popen(
            [*manage, "serve", "--port", str(self.port)],
            cwd=ROOT,
            env=own,
            stdout=self.log.open("w"),
            stderr=subprocess.STDOUT,
        )

    def start_company(self, name: str, email: str) -> None:
        """A company without jobs, and its lead."""
        start = [sys.executable, "manage.py", "start_company", name, email]
        subprocess.run(
            [*start, "--password-stdin"],
            cwd=ROOT,
            env=self.own,
            input=PASSWORD + "\n",
            text=True,
            check=True,
            capture_output=True,
        )

    def wait(self, seconds: float = 60) -> None:
        """Until pages and worker answer."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                with urllib.request.urlopen(f"{self.url}/readyz", timeout=2) as answer:
                    if answer.status == 200:
                        return
            except OSError:
                time.sleep(0.3)
        pytest.fail(f"the service did not start:\n{self.log.read_text()[-3000:]}")

    def stop(self) -> None:
        self.process.send_signal(signal.SIGTERM)
        assert self.process.wait(30) == 0


@pytest.fixture(scope="session")
def service(tmp_path_factory):
    if not Path(CHROMIUM).exists():
        pytest.fail("needs Debian's package chromium: apt-get install chromium")
    running = Service(tmp_path_factory.mktemp("served"))
    running.wait()
    yield running
    running.stop()


@pytest.fixture(scope="session")
def browser():
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield launched
        launched.close()


@pytest.fixture(scope="session")
def job_file(tmp_path_factory) -> Path:
    """The demo job of this week, as a file to bring in."""
    today = datetime.now(ZoneInfo(ZONE)).date()
    path = tmp_path_factory.mktemp("files") / "marram-house.json"
    path.write_text(json.dumps(write_job(marram_house(demo_monday(today)))))
    return path


class Visit:
    """A page whose console is listened to; ``look`` holds it to axe and to silence."""

    def __init__(self, page: Page, url: str) -> None:
        self.page, self.url = page, url
        self.said: list[str] = []
        page.on("console", lambda message: self.said.append(message.text))
        page.on("pageerror", lambda error: self.said.append(str(error)))

    def go(self, path: str) -> None:
        self.page.goto(self.url + path)

    def look(self) -> None:
        """No barrier axe knows of, nothing on the console, no sideways scroll."""
        found = Axe().run(self.page, options={"resultTypes": ["violations"]})
        assert found.violations_count == 0, found.generate_report()
        assert self.said == []
        root = "document.documentElement"
        wide = self.page.evaluate(f"{root}.scrollWidth - {root}.clientWidth")
        assert wide <= 0

    def sign_in(self, email: str = EMAIL) -> None:
        self.go("/sign-in/")
        self.page.get_by_label("E-mail").fill(email)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(self.url + "/")


@pytest.fixture(params=[PHONE, DESK], ids=["phone", "desk"])
def visit(request, service, browser):
    """A stranger's browser at one width."""
    width, height = request.param
    context = browser.new_context(
        viewport={"width": width, "height": height}, reduced_motion="reduce"
    )
    context.set_default_timeout(20_000)
    expect.set_options(timeout=20_000)  # a page of a whole plan on a busy machine
    yield Visit(context.new_page(), service.url)
    context.close()


def fresh_name() -> str:
    return f"walk-{secrets.token_hex(3)}"
