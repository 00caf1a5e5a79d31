"""Rows and engine values tell the same job, in a fixed number of queries."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.demo_job import marram_house
from jobs.factories import (
    MONDAY,
    AirControlFactory,
    AirHourFactory,
    BanFactory,
    CoatFactory,
    DateWishFactory,
    GateFactory,
    HandFactory,
    HoursFactory,
    MaterialFactory,
    PinFactory,
    ReadingFactory,
    RecipeFactory,
    RoomFactory,
    StepFactory,
    SurfaceFactory,
    TradeFactory,
    small_job,
)
from jobs.models import Coat, Company, Hand, Job, Plan, Reading, Stint, Surface, User
from jobs.translation import (
    in_zone,
    job_json,
    job_value,
    plan_value,
    store_job,
    store_plan,
)
from scheduling import plan as engine_plan
from scheduling import problem
from scheduling.errors import BadInput
from scheduling.job_file import job_sha256, read_job, write_job

LISBON = "Europe/Lisbon"


def full_job() -> problem.Job:
    """A job that gives every key of the format something of its own."""
    hours = problem.Hours(
        days="mon,wed-thu",
        start="07:30",
        end="24:00",
        breaks=(
            problem.Break(start="10:00", end="10:15"),
            problem.Break(start="12:00", end="12:45", relay=True),
        ),
    )
    air = problem.Air(temperature_c=-3.25, humidity_pct=0)
    return small_job(
        title="Grande Hôtel, “salons” 沙龙",
        waste_pct=7.5,
        site=problem.Site(
            zone="America/St_Johns",
            hours=(hours, problem.Hours(days="sat", start="08:00", end="12:00")),
            latitude=47.5675,
            longitude=-52.7072,
            altitude_m=-3.5,
            closed=(date(2026, 10, 5), date(2026, 12, 25)),
            quiet=(hours,),
            smell_free=(hours,),
            typical_air=(
                problem.TypicalAir(start="00:00", temperature_c=4, humidity_pct=88.5),
            ),
        ),
        hands=(
            HandFactory(id="hand", name="Master of the brush", hours=(hours,)),
            HandFactory(id="2nd", skills=(), away=((MONDAY, MONDAY + timedelta(1)),)),
            HandFactory(id="third", skills=("gilder", "finisher")),
        ),
        materials=(
            MaterialFactory(
                id="material",
                name="Ground",
                points=(problem.LabelPoint(air=air, labels={"recoat": (300, 450.5)}),),
                promises={"handle": 60, "full": (14400, 20160)},
                water_share=0.55,
                spread_m2_per_l=9.5,
                parts={"colour": 1, "medium": 0.1},
                oily=True,
                solvent=True,
                tins_l=(0.75, 5),
                lead_days=0,
            ),
            MaterialFactory(id="spare"),
        ),
        recipes=(
            RecipeFactory(
                id="recipe",
                name="Ground and drag",
                steps=(
                    StepFactory(id="coat-1", name="Ground", makes=("steam", "solvent")),
                    StepFactory(id="sand", material=None, makes=("dust",), splits=True),
                    StepFactory(
                        id="coat-2",
                        after=problem.After(step="coat-1", stage="recoat"),
                        rescue=problem.Rescue(min_m2=0.5, stage="touch"),
                        work_min_m2=1.1,
                        setup_min=7,
                        hands=problem.HandsNeeded(least=1, most=3),
                        skill="finisher",
                        wet=True,
                        coat=2.25,
                        seals=False,
                        prefers="late",
                        same_hand=True,
                    ),
                ),
            ),
        ),
        rooms=(
            RoomFactory(
                id="room",
                name="Salon",
                air=AirControlFactory(changes_per_h=0.5, dehumidifier_l_day=20),
                access=(),
                opens=(hours,),
                connected=("attic", "room"),
                hands_most=4,
                hand_back=MONDAY + timedelta(days=11, seconds=1, microseconds=250),
                smell_free=(hours,),
                others=(TradeFactory(), TradeFactory(makes=("dust", "steam"))),
            ),
            RoomFactory(id="attic", access=(hours,), any_order=True),
        ),
        surfaces=(
            SurfaceFactory(
                id="wall",
                name="North wall",
                kind="panel",
                width_m=7.123456789012345,
                openings_m2=0.1,
                stop_lines_m=(1, 2.5),
                outside=True,
                u_w_m2k=1.3,
                sun=(problem.Hours(days="mon-sun", start="14:00", end="17:00"),),
                priority=-3,
                gates=(
                    GateFactory(),
                    GateFactory(
                        name="Sample signed",
                        not_before=None,
                        not_after=MONDAY + timedelta(days=5),
                    ),
                ),
                ground="porous",
            ),
            SurfaceFactory(id="beam", room="attic", kind="trim", ground="sealed"),
            SurfaceFactory(id="left", opposite="right"),
            SurfaceFactory(id="right"),
        ),
        outdoors=(
            AirHourFactory(wind_m_s=0),
            AirHourFactory(at=MONDAY + timedelta(hours=1), wind_m_s=12.5),
            AirHourFactory(at=MONDAY + timedelta(hours=2), temperature_c=1e-7),
        ),
        outdoors_from=problem.OutdoorsFrom(source="MET Norway", made=MONDAY),
        readings=(
            ReadingFactory(surface_c=11.5),
            ReadingFactory(room="attic", temperature_c=0),
            ReadingFactory(room="attic", temperature_c=0),  # twice is not once
        ),
        moisture=(
            problem.MoistureReading(at=MONDAY, moisture_pct=14.5, surface="beam"),
            problem.MoistureReading(
                at=MONDAY, moisture_pct=9, surface="wall", of="plaster"
            ),
            problem.MoistureReading(at=MONDAY, moisture_pct=0, room="attic", of="wood"),
        ),
        coats=(CoatFactory(section="2"), CoatFactory(surface="beam")),
        pins=(
            PinFactory(hands=("third", "hand"), section="2"),
            PinFactory(surface="beam"),
        ),
        bans=(
            BanFactory(hands=("third", "hand")),
            BanFactory(
                section="1", hands=(), start=MONDAY, end=MONDAY + timedelta(hours=12)
            ),
        ),
        dates=(
            DateWishFactory(must=True, weight=2.5),
            DateWishFactory(surface="beam", stage="hard"),
            DateWishFactory(room="attic", promise="wash"),
        ),
    )


JOBS = {
    "small": small_job,
    "full": full_job,
    "demo": lambda: marram_house(MONDAY.date()),
}


@pytest.mark.parametrize("name", JOBS)
def test_a_stored_job_keeps_every_value(company: Company, name: str) -> None:
    job = JOBS[name]()
    assert job_value(store_job(company, job)) == in_zone(job, job.site.tz)


@pytest.mark.parametrize("name", JOBS)
def test_export_import_export_is_identical(
    company: Company, stranger: User, name: str
) -> None:
    first = json.dumps(job_json(store_job(company, JOBS[name]())))
    again = store_job(stranger.company, read_job(json.loads(first)))
    assert json.dumps(job_json(again)) == first


def whole(text: str) -> int | float:
    """A number as people type it: 5, not 5.0."""
    number = float(text)
    return int(number) if number.is_integer() else number


@pytest.mark.parametrize("name", JOBS)
def test_a_file_in_the_sites_zone_has_the_same_fingerprint_when_stored(
    company: Company, name: str
) -> None:
    job = JOBS[name]()
    written = json.dumps(write_job(in_zone(job, job.site.tz)))
    typed = read_job(json.loads(written, parse_float=whole))
    assert job_sha256(job_value(store_job(company, typed))) == job_sha256(typed)


def test_moments_come_back_in_the_sites_zone(company: Company) -> None:
    written = write_job(small_job())
    written["now"] = "2026-10-24T23:30:00+00:00"  # an hour before the clocks go back
    written["coats"] = [
        {
            "surface": "wall",
            "step": "coat-1",
            "from": "2026-10-24T22:00:00+09:00",
            "to": "2026-10-25T03:00:00+01:00",
        }
    ]
    told = job_json(store_job(company, read_job(written)))
    assert told["now"] == "2026-10-25T00:30:00+01:00"
    assert told["coats"][0]["from"] == "2026-10-24T14:00:00+01:00"
    assert told["coats"][0]["to"] == "2026-10-25T02:00:00+00:00"


def test_the_hour_that_comes_twice_keeps_its_two_moments(company: Company) -> None:
    start = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)  # 01:30 summer time in Lisbon
    hours = tuple(AirHourFactory(at=start + timedelta(hours=n)) for n in range(3))
    told = job_json(store_job(company, small_job(outdoors=hours)))
    assert [hour["at"] for hour in told["outdoors"]] == [
        "2026-10-25T01:30:00+01:00",
        "2026-10-25T01:30:00+00:00",
        "2026-10-25T02:30:00+00:00",
    ]


names = st.text(
    st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=200
)
moments = st.datetimes(
    datetime(2001, 1, 1),  # noqa: DTZ001 - the zone comes from the next line
    datetime(2198, 1, 1),  # noqa: DTZ001
    timezones=st.integers(-14 * 60, 14 * 60).map(
        lambda m: timezone(timedelta(minutes=m))
    ),
)
temperatures = st.one_of(st.integers(-60, 70), st.floats(-60, 70))
shares = st.one_of(st.integers(0, 100), st.floats(0, 100))
air_hours = st.builds(
    problem.AirHour,
    at=moments,
    temperature_c=temperatures,
    humidity_pct=shares,
    wind_m_s=st.none() | st.floats(0, 120),
)
coats = st.tuples(moments, moments).map(
    lambda pair: CoatFactory(start=min(pair), end=max(pair))
)
wishes = st.builds(
    DateWishFactory,
    by=moments,
    must=st.booleans(),
    weight=st.floats(1e-3, 1000),
    room=st.sampled_from(("room", None)),
    promise=st.sampled_from(("wash", None)),
)
varied_jobs = st.builds(
    small_job,
    title=names,
    now=st.none() | moments,
    outdoors=st.lists(air_hours, max_size=4).map(tuple),
    coats=st.lists(coats, max_size=3).map(tuple),
    dates=st.lists(wishes, max_size=3).map(tuple),
    rooms=st.builds(
        RoomFactory,
        id=st.just("room"),
        name=st.none() | names,
        volume_m3=st.floats(1e-3, 1e5) | st.integers(1, 99),
        hands_most=st.none() | st.integers(1, 50),
        hand_back=st.none() | moments,
        access=st.none() | st.just(()) | st.just((HoursFactory(),)),
    ).map(lambda room: (room,)),
)


@settings(
    max_examples=25,
    deadline=None,  # the database of a busy machine is slow, not wrong
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(value=varied_jobs, zone=st.sampled_from((LISBON, "Asia/Kathmandu", "UTC")))
def test_any_valid_job_comes_back_as_it_went_in(
    company: Company, value: problem.Job, zone: str
) -> None:
    job = replace(value, site=replace(value.site, zone=zone))
    try:
        read_job(write_job(job))
    except BadInput:
        return  # a job the format refuses is not stored
    row = store_job(company, job, replace=True)
    first = job_json(row)
    assert job_value(row) == in_zone(job, job.site.tz)
    row = store_job(company, read_job(json.loads(json.dumps(first))), replace=True)
    assert json.dumps(job_json(row)) == json.dumps(first)


def job_of(rooms: int) -> problem.Job:
    """That many rooms with a wall, a recipe, a coat, a reading and a date each."""
    ids = [f"n-{number}" for number in range(rooms)]
    return small_job(
        id=f"rooms-{rooms}",
        hands=tuple(HandFactory(id=name) for name in ids),
        materials=tuple(MaterialFactory(id=name) for name in ids),
        recipes=tuple(
            RecipeFactory(id=name, steps=(StepFactory(id="coat-1", material=name),))
            for name in ids
        ),
        rooms=tuple(RoomFactory(id=name) for name in ids),
        surfaces=tuple(SurfaceFactory(id=name, room=name, recipe=name) for name in ids),
        outdoors=tuple(AirHourFactory() for _ in ids),
        readings=tuple(ReadingFactory(room=name) for name in ids),
        coats=tuple(CoatFactory(surface=name) for name in ids),
        pins=tuple(PinFactory(surface=name) for name in ids),
        bans=tuple(BanFactory(surface=name, hands=ids[:1]) for name in ids),
        dates=tuple(DateWishFactory(surface=name) for name in ids),
    )


@pytest.mark.parametrize("rooms", [2, 20])
def test_a_job_is_read_in_thirteen_queries_whatever_its_size(
    company: Company, rooms: int, django_assert_num_queries: Any
) -> None:
    row = Job.objects.get(pk=store_job(company, job_of(rooms)).pk)
    with django_assert_num_queries(13):
        assert len(job_value(row).surfaces) == rooms


def test_an_id_that_is_taken_is_refused_by_name(company: Company, job: Job) -> None:
    with pytest.raises(BadInput, match='id: "job": an id not yet taken'):
        store_job(company, small_job(title="Another"))
    job.refresh_from_db()
    assert job.title == "One wall"


def test_two_companies_may_use_one_id(job: Job, stranger: User) -> None:
    other = store_job(stranger.company, small_job(title="Theirs"))
    assert (other.key, other.pk != job.pk) == (job.key, True)
    assert job_value(job).title == "One wall"


def test_replacing_a_job_keeps_rows_whose_id_stays(
    company: Company, lead: User
) -> None:
    row = store_job(company, full_job())
    kept = {
        model: {entry.key: entry.pk for entry in model.objects.filter(job=row)}
        for model in (Hand, Surface)
    }
    Coat.objects.filter(job=row).update(logged_by=lead)
    Reading.objects.filter(job=row).update(taken_by=lead)
    changed = replace(
        full_job(),
        hands=full_job().hands[::-1][:2],
        surfaces=full_job().surfaces[:1],
        rooms=(replace(full_job().rooms[0], connected=()),),
        readings=full_job().readings[:1],
        moisture=full_job().moisture[1:2],
        coats=(full_job().coats[0], CoatFactory(section="1")),
        pins=(),
        bans=full_job().bans[1:],
        dates=full_job().dates[:1],
    )
    again = store_job(company, changed, replace=True)
    assert again.pk == row.pk
    assert job_value(again) == in_zone(changed, changed.site.tz)
    for model, keys in kept.items():
        now = {entry.key: entry.pk for entry in model.objects.filter(job=row)}
        assert now.items() <= keys.items()
    assert [coat.logged_by for coat in again.coats.all()] == [lead, None]
    assert again.readings.get().taken_by == lead


def test_a_refused_replacement_changes_nothing(company: Company, job: Job) -> None:
    # In New York this moment is still in 1999, which the format refuses.
    early = replace(
        small_job(title="New"),
        now=datetime(2000, 1, 1, tzinfo=UTC),
        site=replace(small_job().site, zone="America/New_York"),
    )
    before = job_json(job)
    try:
        store_job(company, early, replace=True)
    except BadInput:
        assert job_json(Job.objects.get(pk=job.pk)) == before
    else:  # a format that counts years in UTC takes it, and gives it back
        assert job_value(Job.objects.get(pk=job.pk)) == in_zone(early, early.site.tz)


def stint(stint_id: str, hours: float, **changes: Any) -> engine_plan.Stint:
    start = MONDAY.astimezone(UTC) + timedelta(hours=hours)
    never = engine_plan.Range(early=start, likely=start, safe=None)
    values: dict[str, Any] = {
        "id": stint_id,
        "kind": "work",
        "surface": "wall",
        "step": "coat-1",
        "hands": ("hand",),
        "start": start,
        "end": start + timedelta(minutes=50.5),
        "reason": engine_plan.Reason(code="start", text="As early as the plan begins"),
        "ready": {"touch": never},
    }
    return engine_plan.Stint(**{**values, **changes})


def a_plan(*stints: engine_plan.Stint, **changes: Any) -> engine_plan.Plan:
    values: dict[str, Any] = {
        "job_sha256": job_sha256(small_job()),
        "outcome": "plan",
        "finish": max((stint.end for stint in stints), default=None),
        "bound": engine_plan.Bound(
            finish_not_before=None, proved=False, air="as given"
        ),
        "late": (engine_plan.Late(date=0, by_min=None),),
        "air": {"room": (AirHourFactory(),)},
        "stints": stints,
        "notes": ("A note",),
    }
    return engine_plan.Plan(**{**values, **changes})


def test_a_stored_plan_comes_back_in_the_sites_zone(job: Job) -> None:
    reason = engine_plan.Reason(code="wait", text="Waits for wall-coat-1", other="s-1")
    value = a_plan(stint("s-1", 8), stint("s-2", 30, section="1", reason=reason))
    row = store_plan(job, value, planned=small_job(), planned_at=MONDAY)
    row = Plan.objects.get(pk=row.pk)
    assert plan_value(row) == in_zone(value, job.tz)
    assert row.content["stints"][0]["from"] == "2026-10-12T08:00:00+01:00"
    assert (row.number, row.state, row.finish) == (1, "draft", value.finish)


def test_each_stint_is_a_row_that_knows_its_room_and_reason(job: Job) -> None:
    reason = engine_plan.Reason(code="wait", text="Waits for s-1", other="s-1")
    value = a_plan(stint("s-1", 8), stint("s-2", 30, reason=reason))
    row = store_plan(job, value, planned=small_job(), planned_at=MONDAY)
    first, second = Stint.objects.filter(plan=row)
    assert (first.key, first.room_key, first.hands) == ("s-1", "room", ["hand"])
    assert (second.reason_code, second.reason_other) == ("wait", "s-1")
    assert second.start == value.stints[1].start


def test_plans_of_a_job_count_up(job: Job) -> None:
    numbers = [
        store_plan(job, a_plan(), planned=small_job(), planned_at=MONDAY).number
        for _ in range(3)
    ]
    assert numbers == [1, 2, 3]


def test_storing_a_job_takes_no_query_a_row(company: Company) -> None:
    counts = []
    for rooms in (2, 20):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            store_job(company, job_of(rooms))
        counts.append(len(queries))
    # Steps are stored a recipe at a time; a recipe may cost three queries.
    assert counts[1] - counts[0] <= 18 * 4
