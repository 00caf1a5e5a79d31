"""What the database refuses whoever asks, and what a row says of itself."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import RestrictedError

from jobs.factories import (
    MONDAY,
    AirHourFactory,
    CoatFactory,
    DateWishFactory,
    ReadingFactory,
    SurfaceFactory,
    small_job,
)
from jobs.models import (
    Coat,
    CoatTest,
    Company,
    DateWish,
    ForecastHour,
    ForwardRun,
    Job,
    Material,
    Plan,
    PlanRun,
    Reading,
    Step,
    Surface,
    User,
)
from jobs.translation import store_job


def refuses(write: Any) -> bool:
    """Whether the database itself refuses, without any form or full_clean."""
    try:
        with transaction.atomic():
            write()
    except IntegrityError:
        return True
    return False


@pytest.mark.parametrize(
    ("model", "changes"),
    [
        (Surface, {"width_m": 0}),
        (Surface, {"openings_m2": 12.5}),  # the whole wall of 5 by 2.5 m
        (Step, {"hands_least": 2, "hands_most": 1}),
        (Step, {"apply_min_m2": -1}),
        (Material, {"water_share": 1.5}),
        (Reading, {"humidity_pct": 100.5}),
        (Reading, {"temperature_c": -61}),
        (Reading, {"surface_c": 71}),
        (ForecastHour, {"humidity_pct": -1}),
        (Coat, {"end": MONDAY}),
        (DateWish, {"stage": ""}),
        (DateWish, {"promise": "wash"}),
        (DateWish, {"weight": 0}),
        (Job, {"latitude": 91}),
    ],
)
def test_the_database_refuses_what_the_format_does(
    company: Company, model: Any, changes: dict[str, Any]
) -> None:
    store_job(
        company,
        small_job(
            outdoors=(AirHourFactory(),),
            readings=(ReadingFactory(),),
            coats=(CoatFactory(),),
            dates=(DateWishFactory(),),
        ),
    )
    assert refuses(lambda: model.objects.update(**changes))


def test_a_surface_may_not_be_a_date_and_a_room_too(job: Job) -> None:
    surface = job.surfaces.get()
    values = {"job": job, "by": MONDAY, "must": True, "stage": "touch"}
    both = {"surface": surface, "room": surface.room}
    assert refuses(lambda: DateWish.objects.create(**values, **both))
    assert not refuses(lambda: DateWish.objects.create(**values, room=surface.room))


def a_plan(job: Job, number: int, **changes: Any) -> Plan:
    values = {"outcome": "plan", "job_sha256": "0", "content": {}, "planned_at": MONDAY}
    return Plan.objects.create(job=job, number=number, **{**values, **changes})


def test_a_job_has_one_issued_plan_at_most(job: Job) -> None:
    a_plan(job, 1, state="issued", issued_at=MONDAY)
    assert refuses(lambda: a_plan(job, 2, state="issued", issued_at=MONDAY))
    a_plan(job, 2)
    assert refuses(lambda: a_plan(job, 2))


def test_no_plan_is_never_issued(job: Job) -> None:
    assert refuses(
        lambda: a_plan(job, 1, state="issued", issued_at=MONDAY, outcome="no-plan")
    )


@pytest.mark.parametrize("state", ["queued", "running"])
def test_a_job_has_one_waiting_and_one_running_run(job: Job, state: str) -> None:
    PlanRun.objects.create(job=job, at=MONDAY, state=state)
    assert refuses(lambda: PlanRun.objects.create(job=job, at=MONDAY, state=state))
    PlanRun.objects.create(job=job, at=MONDAY, state="done")


def test_a_surface_is_asked_about_once_and_one_question_runs(job: Job) -> None:
    asked = {"job": job, "at": MONDAY}
    ForwardRun.objects.create(**asked, surface_key="wall", state="running")
    for state in ("queued", "running"):
        assert refuses(
            lambda state=state: ForwardRun.objects.create(
                **asked, surface_key="wall", state=state
            )
        )
    assert refuses(
        lambda: ForwardRun.objects.create(**asked, surface_key="x", state="running")
    )
    ForwardRun.objects.create(**asked, surface_key="x")
    ForwardRun.objects.create(**asked, surface_key="wall", state="done")


def test_an_id_is_used_once_in_a_job(job: Job) -> None:
    room = job.rooms.get()
    twin = {"key": room.key, "volume_m3": 1, "air": {}}
    assert refuses(lambda: job.rooms.create(**twin))
    job.rooms.create(**{**twin, "key": "other"})


@pytest.mark.parametrize("key", ["", "Wall", "a b", "wand-ä", "x" * 41])
def test_an_id_is_made_of_small_letters_digits_and_hyphens(job: Job, key: str) -> None:
    surface = job.surfaces.get()
    surface.key = key
    with pytest.raises(ValidationError) as caught:
        surface.full_clean()
    assert "key" in caught.value.message_dict


def test_a_step_of_another_recipe_is_no_coat_here(company: Company) -> None:
    first = store_job(company, small_job())
    second = store_job(company, small_job(id="second"))
    step = second.recipes.get().steps.first()
    moments = {"start": MONDAY, "end": MONDAY}
    coat = Coat(job=first, surface=first.surfaces.get(), step=step, **moments)
    with pytest.raises(ValidationError, match="step of this surface's recipe"):
        coat.full_clean()


def test_sections_lie_between_stop_lines(company: Company) -> None:
    wall = SurfaceFactory(id="wall", stop_lines_m=(1, 3))
    row = store_job(company, small_job(surfaces=(wall,))).surfaces.get()
    assert row.sections == [section for section, _ in wall.sections] == ["1", "2", "3"]
    step = row.recipe.steps.first()
    test = CoatTest(
        job=row.job, surface=row, step=step, section="4", result="ready", at=MONDAY
    )
    with pytest.raises(ValidationError, match="Choose one of: 1, 2, 3"):
        test.full_clean()


def test_area_is_net_of_openings(job: Job) -> None:
    surface = job.surfaces.get()
    surface.openings_m2 = 2.5
    assert surface.area_m2 == 10


def test_an_e_mail_address_is_one_person_in_capitals_or_not(
    company: Company, lead: User
) -> None:
    found = User.objects.get_by_natural_key("  Lead@Example.COM ")
    assert found == lead
    with pytest.raises(ValidationError, match="already exists"):
        User.objects.create_user("LEAD@example.com", "x", company=company)
    assert refuses(lambda: User.objects.update(email="Lead@example.com"))


def test_a_company_takes_all_its_rows_along(job: Job, stranger: User) -> None:
    a_plan(job, 1)
    PlanRun.objects.create(job=job, at=MONDAY)
    job.company.delete()
    assert not Job.objects.exists()
    assert not Plan.objects.exists()
    assert User.objects.get() == stranger


def test_a_recipe_in_use_is_not_deleted_from_under_a_wall(job: Job) -> None:
    with pytest.raises(RestrictedError):
        job.recipes.get().delete()


def test_a_row_is_called_by_its_name_else_by_its_id(job: Job) -> None:
    room = job.rooms.get()
    assert str(room) == "room"
    room.name = "Salon"
    assert room.label == "Salon"
    assert str(PlanRun(job=job)) == "One wall: Waiting to be planned"
    assert PlanRun(state="failed").is_over
    assert not PlanRun(state="running").is_over
