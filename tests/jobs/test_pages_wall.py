"""This wall: the answer, the crews and the mix, on the page and as geometry."""

from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client

from jobs.factories import (
    MaterialFactory,
    RecipeFactory,
    StepFactory,
    SurfaceFactory,
    small_job,
)
from jobs.models import Company, Job, User
from jobs.translation import store_job
from jobs.wall_drawing import wall_drawing
from scheduling.problem import HandsNeeded
from tests.jobs.conftest import NOW
from tests.jobs.page_cast import words


@pytest.fixture(autouse=True)
def the_clock() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def page(company: Company, client: Client, lead: User) -> Callable[..., str]:
    """A glaze on a wall with one stop line, seen by the lead."""
    glaze = StepFactory(
        id="glaze",
        name="Glaze and drag",
        wet=True,
        apply_min_m2=2.5,
        work_min_m2=5.0,
        hands=HandsNeeded(least=2),
    )
    sand = StepFactory(id="sand", material=None)
    sanded = RecipeFactory(id="recipe", steps=(sand, glaze))
    job = small_job(
        materials=(
            MaterialFactory(
                id="material",
                labels={"open": 40.0, "recoat": 240.0},
                parts={"colour": 1.0, "medium": 1.0},
                spread_m2_per_l=10.0,
            ),
        ),
        recipes=(sanded,),
        surfaces=(
            SurfaceFactory(id="wall", stop_lines_m=(2.0,)),
            SurfaceFactory(id="other", openings_m2=2.0),
        ),
        coats=(),
    )
    store_job(company, job)
    client.force_login(lead)

    def get(path: str = "", status: int = 200, **query: str) -> str:
        answer = client.get(f"/jobs/{job.id}/wall/wall/{path}", query)
        assert answer.status_code == status
        return answer.content.decode()

    return get


def test_the_next_step_is_shown_unless_another_is_asked_for(page) -> None:
    said = words(page())
    assert "No wet edge to keep. One hand, about 50 min" in said
    assert "Two hands, strips" in words(page(step="glaze"))


def test_the_answer_gives_strips_and_the_latest_start_before_what_ends_it(page) -> None:
    said = words(page(step="glaze", temperature="23", humidity="50"))
    assert "strips 2.2 m wide, about 62 min" in said
    assert "Start by 10:25 at the latest: the break is at 12:00." in said
    assert "Strips are reckoned with 70 % of it" in said


def test_a_part_between_stop_lines_is_a_wall_by_itself(page) -> None:
    said = words(page(step="glaze", section="1", temperature="23", humidity="50"))
    assert "2.0 m by 2.5 m, 5.0 m²" in said
    assert "the whole of it in one go" in said
    page(status=404, step="glaze", section="9")


def test_crews_the_step_does_not_allow_are_told_and_not_chosen(page) -> None:
    html = page(step="glaze", temperature="23", humidity="50")
    assert html.count('class="chosen"') == 1
    assert "The step is for 2 at the wall." in words(html)


def test_the_mix_is_for_this_wall_and_for_all_that_get_it(page) -> None:
    said = words(page(step="glaze"))
    assert "This wall: 1.4 l : colour 0.72 l, medium 0.72 l" in said
    assert "All 2 surfaces in one batch: 2.6 l" in said


def test_what_to_mind_at_the_step_stands_beside_it_with_its_source(page) -> None:
    said = words(page(step="sand"))
    assert "Dust of plaster" not in said  # this sanding is said to make none
    assert "Above 2.0 m: a sound ladder" in said
    assert "Work at Height Regulations 2005 (UK); local codes" in said
    assert "Water and wires" not in said
    assert "Water and wires: circuits off" in words(page(step="glaze"))


def test_what_to_mind_is_in_the_readers_units(page, lead) -> None:
    lead.units = User.Units.US
    lead.save()
    assert "Above 6 ft 7 in: a sound ladder" in words(page(step="sand"))


def test_the_allowance_for_waste_is_the_jobs_own(page) -> None:
    assert "15 % for trays and brushes" in words(page(step="glaze"))
    Job.objects.update(waste_pct=0)
    said = words(page(step="glaze"))
    assert "0 % for trays and brushes" in said
    assert "This wall: 1.2 l" in said


def test_an_air_that_cannot_be_stands_beside_its_field(page) -> None:
    said = words(page(status=422, step="glaze", temperature="23", humidity="130"))
    assert "130" in said
    assert "0 to 100" in said


def test_a_wall_or_step_that_is_not_there_is_not_found(page, client) -> None:
    page(status=404, step="nothing")
    assert client.get("/jobs/job/wall/nothing/").status_code == 404


def test_the_drawing_is_to_scale_and_parts_each_section_in_its_strips() -> None:
    drawing = wall_drawing(
        width_m=5.0, height_m=2.5, stop_lines_m=(2.0,), section_strips=(1, 3)
    )
    assert drawing.width == pytest.approx(2 * drawing.height)
    assert [strip.width for strip in drawing.strips] == [168.0, 84.0, 84.0, 84.0]
    assert [strip.number for strip in drawing.strips] == ["1", "2", "3", "4"]
    assert [stop.at_m for stop in drawing.stops] == [0.0, 2.0, 5.0]


def test_a_tall_narrow_wall_keeps_within_the_page() -> None:
    drawing = wall_drawing(width_m=0.5, height_m=20.0)
    assert drawing.height <= 260
    assert drawing.width >= 80


def test_narrow_strips_are_not_numbered() -> None:
    drawing = wall_drawing(width_m=10.0, height_m=2.0, section_strips=(40,))
    assert {strip.number for strip in drawing.strips} == {""}
