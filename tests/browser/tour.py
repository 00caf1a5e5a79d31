"""Takes the pictures of README's tour: the demo job on a phone and at a desk.

Run by ``make tour``; the pictures land beside this file in ``tour/``.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import CHROMIUM, FLAGS, ROOT, Service

PICTURES = Path(__file__).parent / "tour"
SIZES = {"phone": (390, 844), "desk": (1280, 900)}


def demo(data: Path) -> tuple[str, str]:
    """Load, plan and issue the demo; the lead's e-mail and password."""
    printed = subprocess.run(
        [sys.executable, "manage.py", "demo", "--no-serve"],
        cwd=ROOT,
        env=os.environ | {"DATA_DIR": str(data), "PYTHONTZPATH": ""},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    found = re.search(r"as (\S+), password (\S+)", printed)
    assert found is not None, printed
    return found[1], found[2]


def sign_in(page: Page, url: str, email: str, password: str) -> None:
    page.goto(url + "/sign-in/")
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(url + "/")


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        data = Path(folder)
        email, password = demo(data)
        service = Service(data)
        service.wait()
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        job = "/jobs/marram-house/"
        for name, (width, height) in SIZES.items():
            page = browser.new_page(viewport={"width": width, "height": height})
            sign_in(page, service.url, email, password)
            pages = {
                "now": job,
                "week": job + "week/",
                "recipe": job + "recipes/two-colour-glaze/",
                "wall": job + "wall/lounge-n/",
                "set-up": job + "set-up/",
                "closing-up": job + "closing-up/",
                "quantities": job + "quantities/",
                "turn": job + "turn/",
                "links": job + "calendars/",
                "problem": job + "problem/?surface=lounge-n",
                "book": "/book/",
            }
            for shot, path in pages.items():
                page.goto(service.url + path)
                page.screenshot(path=PICTURES / f"{shot}-{name}.png")
        browser.close()
        service.stop()
    print(json.dumps(sorted(path.name for path in PICTURES.glob("*.png"))))


if __name__ == "__main__":
    main()
