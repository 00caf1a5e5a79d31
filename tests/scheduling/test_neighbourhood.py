"""Search on keys: better on dates first, then sooner, the same each time."""

from dataclasses import replace

from jobs.factories import DateWishFactory
from scheduling.greedy import Greedy
from scheduling.neighbourhood import KeySearch
from scheduling.placing import score
from scheduling.planning import plan_job
from tests.benchmarks.finishing_jobs import SMALL, finishing_job
from tests.scheduling.planning_jobs import at, coat, job_of, paint, people
from tests.scheduling.test_search import process_of


def busy_job(**more):
    """Nine walls of three coats in one room: more than three days for two hands."""
    steps = (coat("one", 50), coat("two", 35), coat("three", 20, hands=people(1, 2)))
    return job_of(
        *(steps for _ in range(9)), hands=2, materials=(paint(recoat=200.0),), **more
    )


def test_a_date_is_met_before_the_finish_is_looked_at():
    wish = DateWishFactory(surface="wall-9", by=at(1, "09:00"), stage="")
    process = process_of(busy_job(dates=(wish,)))
    # The last wall last: late on the date, as the first plan to improve.
    first = Greedy(process).place_all([float(u.index) for u in process.units])
    assert score(process, first).late > 0
    found = KeySearch(process, first).run(budget=1.0)
    assert score(process, found).late == 0


def test_a_date_that_must_be_kept_weighs_more_than_any_wish():
    must = DateWishFactory(surface="wall-9", by=at(1, "09:00"), stage="", must=True)
    wish = DateWishFactory(surface="wall-1", by=at(0, "08:30"), stage="", weight=50.0)
    process = process_of(busy_job(dates=(must, wish)))
    first = Greedy(process).place_all([float(u.index) for u in process.units])
    assert score(process, first).late == float("inf")
    found = KeySearch(process, first).run(budget=1.0)
    assert score(process, found).late < float("inf")


def test_the_search_stops_when_told_to_and_keeps_what_it_had():
    process = process_of(busy_job())
    first = Greedy(process).place_all([-float(u.index) for u in process.units])
    search = KeySearch(process, first, go_on=lambda placing: False)
    assert search.run(budget=50.0) is search.best
    assert search.stopped
    assert search.tries < 5_000


def test_a_plan_of_a_hundred_stints_is_the_same_for_the_same_budget():
    job = finishing_job(SMALL, 2)
    rooms = {room.id for room in job.rooms[:3]}
    job = replace(
        job, surfaces=tuple(s for s in job.surfaces if s.room in rooms), dates=()
    )
    one, again = (plan_job(job, at=job.now, budget=0.5) for _ in range(2))
    assert len(one.stints) > 80
    assert one == again
