"""What pages by a link say as a whole, against texts whose names say what they show."""

import re
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import time_machine
from django.test import Client

from jobs.feed_links import link_address, make_link
from jobs.models import FeedLink, Job
from tests.jobs.calendar_cast import after, moved, stored_job, week_stints
from tests.jobs.test_pages_my_walls import issue

pytestmark = pytest.mark.django_db

GOLDEN = Path(__file__).parents[1] / "golden"


def lines(job: Job, purpose: str, **scope: str) -> str:
    """The page's main part, a line for each piece of text, without its forms."""
    _, token = make_link(job=job, purpose=purpose, at=after(0), **scope)
    html = Client().get(urlsplit(link_address(purpose, token)).path).content.decode()
    main = re.sub(r"<form.*?</form>", "", html.split('<main id="main">')[1], flags=re.S)
    main = re.sub(r"</?(strong|span)[^>]*>", "", main)
    parts = (" ".join(part.split()) for part in re.split(r"<[^>]*>", main))
    return "\n".join(filter(None, parts)) + "\n"


def test_a_hands_day_reads_as_it_did() -> None:
    job = stored_job()
    issue(job, week_stints())
    with time_machine.travel(after(28.5), tick=False):
        said = lines(job, FeedLink.Purpose.WALLS, hand_key="ann")
    assert said == (GOLDEN / "my_walls_half_an_hour_before_a_glaze.txt").read_text()


def test_a_clients_page_reads_as_it_did() -> None:
    job = stored_job()
    issue(job, week_stints())
    issue(job, moved(week_stints(), "wall-glaze", 24), after(0.1))
    with time_machine.travel(after(0.5), tick=False):
        said = lines(job, FeedLink.Purpose.CLIENT)
    assert said == (GOLDEN / "client_page_after_a_glaze_moved_by_a_day.txt").read_text()
