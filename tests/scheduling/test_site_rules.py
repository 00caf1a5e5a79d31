"""Rules of rooms, site and hours: where each alone binds, and broken on purpose.

In each first test only the rule at hand keeps the stint from an earlier start; without
the rule the same job starts earlier.
"""

from dataclasses import replace

from jobs.factories import (
    CoatFactory,
    GateFactory,
    HoursFactory,
    MaterialFactory,
    PinFactory,
    RoomFactory,
    TradeFactory,
)
from scheduling.cautions import DUST_SETTLES_MIN
from scheduling.planning import plan_job
from scheduling.readiness import ready
from tests.scheduling.planning_jobs import (
    at,
    coat,
    dry,
    job_of,
    paint,
    planned,
    stint,
    with_room,
    with_surface,
)
from tests.scheduling.test_audit import broken_rules, moved, sound


def hours(start, end, days="mon-sun"):
    """Hours without a break."""
    return (HoursFactory(days=days, start=start, end=end, breaks=()),)


def with_site(job, **changes):
    """The job with its site changed."""
    return replace(job, site=replace(job.site, **changes))


def no_plan(job):
    """The reasons for which a job has no plan."""
    plan = plan_job(job, at=job.now, budget=1)
    assert plan.outcome == "no-plan"
    return plan.reasons


# -- quiet hours ---------------------------------------------------------------------


def test_dust_and_noise_wait_for_the_end_of_quiet_hours():
    for what in ("dust", "noise"):
        job = job_of((dry("coat", makes=(what,)),))
        assert stint(planned(job), 1).start == at(0, "08:00")
        job = with_site(job, quiet=hours("07:00", "09:30"))
        found = stint(planned(job), 1)
        assert found.start == at(0, "09:30")
        assert found.reason.code == "quiet"
        assert "Mon 12 Oct 07:00 to Mon 12 Oct 09:30" in found.reason.text
        assert broken_rules(job, moved((found,), "wall-1", "coat", at(0, "09:00"))) == {
            "quiet"
        }


def test_quiet_hours_are_nothing_to_a_brush():
    job = with_site(job_of((coat(),)), quiet=hours("07:00", "09:30"))
    assert stint(planned(job), 1).start == at(0, "08:00")


def test_dusty_work_may_pause_for_a_quiet_lunch():
    job = job_of((dry("coat", minutes=420, makes=("dust",)),))
    job = with_site(job, quiet=hours("12:00", "12:30"))
    (only,) = sound(job)
    assert (only.start, only.end) == (at(0, "08:00"), at(0, "15:30"))


def test_a_step_that_splits_is_split_by_quiet_hours():
    job = job_of((dry("coat", minutes=300, splits=True, makes=("dust",)),))
    job = with_site(job, quiet=hours("10:00", "12:00"))
    first, *_ = sound(job)
    assert first.end <= at(0, "10:00") or first.start >= at(0, "12:30")


def test_quiet_hours_all_day_leave_no_plan_and_say_so():
    job = job_of((dry("coat", makes=("noise",)),))
    (reason,) = no_plan(with_site(job, quiet=hours("08:00", "16:00")))
    assert reason.code == "quiet"
    assert "quiet hours leave no time" in reason.text


# -- the sun ---------------------------------------------------------------------------


def test_wet_work_is_done_before_the_sun_comes_round_or_when_it_has_gone():
    job = job_of((coat(minutes=90, wet=True),))
    assert stint(planned(job), 1).start == at(0, "08:00")
    morning = with_surface(job, 1, sun=hours("07:30", "10:00"))
    found = stint(planned(morning), 1)
    assert found.start == at(0, "10:00")
    assert found.reason.code == "sun"
    assert "Mon 12 Oct 07:30 to Mon 12 Oct 10:00" in found.reason.text
    for clock in ("08:30", "09:55"):
        early = moved((found,), "wall-1", "coat", at(0, clock))
        assert broken_rules(morning, early) == {"sun"}
    # From 09:30 on there is no time for it before; by 09:30 it would be done.
    noon = with_surface(job, 1, sun=hours("09:25", "14:00"))
    assert stint(planned(noon), 1).start == at(0, "14:00")
    late = with_surface(job, 1, sun=hours("09:30", "14:00"))
    assert stint(planned(late), 1).start == at(0, "08:00")


def test_work_that_keeps_no_edge_does_not_mind_the_sun():
    job = with_surface(job_of((coat(),)), 1, sun=hours("00:00", "24:00"))
    assert stint(planned(job), 1).start == at(0, "08:00")


def test_another_wall_of_the_room_is_done_while_the_sun_is_on_the_first():
    walls = (coat(wet=True),), (coat(wet=True),)
    job = with_surface(job_of(*walls), 1, sun=hours("07:30", "10:00"))
    plan = planned(job)
    assert stint(plan, 2).start == at(0, "08:00")
    assert stint(plan, 1).start == at(0, "10:00")


def test_sun_all_day_leaves_no_plan_for_a_wet_edge_and_says_what_helps():
    job = job_of((coat(wet=True),))
    (reason,) = no_plan(with_surface(job, 1, sun=hours("08:00", "17:00")))
    assert reason.code == "sun"
    assert "shade it, or add a stop line" in reason.text


# -- hours open to the public ----------------------------------------------------------


def test_a_coat_waits_until_the_public_has_gone():
    # Begun at 08:00 it would be dry to touch at 10:00.
    job = job_of((coat(),))
    assert stint(planned(job), 1).start == at(0, "08:00")
    job = with_room(job, opens=hours("09:30", "14:00"))
    found = stint(planned(job), 1)
    assert found.start == at(0, "14:00")
    assert found.reason.code == "opens"
    assert "open to the public Mon 12 Oct 09:30 to Mon 12 Oct 14:00" in (
        found.reason.text
    )
    for clock in ("08:00", "10:00"):
        early = moved((found,), "wall-1", "coat", at(0, clock))
        assert broken_rules(job, early) == {"opens"}


def test_a_coat_dry_to_touch_when_the_doors_open_may_go_on():
    job = with_room(job_of((coat(),)), opens=hours("10:00", "23:00"))
    found = stint(planned(job), 1)
    assert (found.start, found.ready["touch"].safe) == (at(0, "08:00"), at(0, "10:00"))


def test_an_evening_coat_that_never_dries_before_next_weeks_opening_is_seen():
    slow = paint(touch=6000.0, recoat=6000.0)  # four days
    job = job_of((coat(),), materials=(slow,))
    job = with_room(job, opens=hours("19:00", "23:00", days="thu"))
    assert stint(planned(job), 1).start == at(4, "08:00")  # Friday


def test_dry_work_goes_on_while_the_room_is_open_where_access_allows_it():
    job = with_room(job_of((dry("coat"),)), opens=hours("08:00", "23:00"))
    assert stint(planned(job), 1).start == at(0, "08:00")


SIZE = MaterialFactory(
    id="material", family="oil-size", labels={"tack": 120.0, "closes": 1800.0}
)


def test_a_size_is_leafed_before_the_room_opens():
    # Leaf could wait until Tuesday; open from 13:00 on, it is laid before.
    job = job_of((coat("size", 30), dry("leaf", 60)), materials=(SIZE,))
    job = with_room(job, opens=hours("13:00", "23:00"))
    sized, leaf = sound(job)
    assert (sized.start, leaf.end) == (at(0, "08:00"), at(0, "11:30"))
    late = moved((sized, leaf), "wall-1", "leaf", at(0, "12:30"))
    assert broken_rules(job, late) == {"opens"}


def test_a_size_that_nothing_comes_over_has_closed_before_the_room_opens():
    # Tacky for 300 min: with its half hour from 13:00 on it is closed at 18:30.
    short = replace(SIZE, labels={"tack": 120.0, "closes": 300.0})
    job = job_of((coat("size", 30),), materials=(short,))
    job = with_room(job, opens=hours("10:00", "13:00"))
    (sized,) = sound(job)
    assert (sized.start, sized.reason.code) == (at(0, "13:00"), "opens")
    early = moved((sized,), "wall-1", "size", at(0, "08:00"))
    assert broken_rules(job, early) == {"opens"}


def test_a_size_that_cannot_be_leafed_before_the_room_opens_is_no_plan():
    job = job_of((coat("size", 30), dry("leaf", 60)), materials=(SIZE,))
    reasons = no_plan(with_room(job, opens=hours("11:00", "24:00")))
    assert any("opens to the public" in reason.text for reason in reasons)


def test_a_coat_that_never_dries_before_the_doors_open_is_no_plan():
    job = with_room(job_of((coat(),)), opens=hours("09:00", "17:00"))
    (reason,) = no_plan(job)
    assert reason.code == "opens"
    assert "before room opens to the public" in reason.text


def test_a_coat_already_on_that_is_tacky_at_the_opening_is_said():
    logged = CoatFactory(
        surface="wall-1", step="one", start=at(0, "07:00"), end=at(0, "08:00")
    )
    job = job_of((coat("one"), coat("two")), coats=(logged,))
    job = with_room(job, opens=hours("08:30", "09:30", days="mon"))
    assert any("not safely dry to touch" in note for note in planned(job).notes)


# -- dust that settles ---------------------------------------------------------------


def test_a_coat_waits_until_the_dust_of_sanding_has_settled():
    for makes, start in (((), "08:30"), (("steam",), "08:30"), (("dust",), "09:30")):
        job = job_of((dry("sand", 30, makes=makes), coat("coat")))
        plan = planned(job)
        assert stint(plan, 1).start == at(0, start)
    found = stint(plan, 1)
    assert found.reason.code == "dust"
    assert "settles until Mon 12 Oct 09:30" in found.reason.text
    assert plan.bound.finish_not_before == plan.finish
    early = moved(plan.stints, "wall-1", "coat", at(0, "09:00"))
    assert broken_rules(job, early) == {"settles"}


def test_the_dust_of_another_wall_settles_too():
    job = job_of((dry("coat", 30, makes=("dust",)),), (coat(),), hands=2)
    pin = PinFactory(surface="wall-1", step="coat", start=at(0, "08:00"))
    job = replace(job, pins=(pin,))
    found = stint(planned(job), 2)
    assert found.start == at(0, "09:30")
    assert "settles until" in found.reason.text


def test_logged_dust_settles_too():
    logged = CoatFactory(
        surface="wall-1", step="sand", start=at(0, "07:00"), end=at(0, "07:45")
    )
    job = job_of((dry("sand", makes=("dust",)), coat("coat")), coats=(logged,))
    (found,) = sound(job)
    assert found.start == at(0, "08:45")
    early = moved((found,), "wall-1", "coat", at(0, "08:30"))
    assert broken_rules(job, early) == {"settles"}
    (state,) = ready(job, at=at(0, "08:15"))
    assert state.state == "soon"
    assert state.until.safe == at(0, "08:45")
    assert "settles until Mon 12 Oct 08:45" in state.held_by[0].text


def test_an_hour_clears_the_room_of_dust_that_shows():
    # Stokes' law for quartz in still air (2650 kg/m3, 1.81e-5 Pa s, from memory): what
    # is left hanging after the wait is finer than 3 um, which no eye finds in a film.
    fall_m_s = 2650 * 9.81 * 3e-6**2 / (18 * 1.81e-5)
    assert 2.5 / fall_m_s / 60 < DUST_SETTLES_MIN


# -- smell-free hours ------------------------------------------------------------------

SMELLY = replace(paint(), solvent=True)


def test_solvent_has_dried_to_touch_before_the_choir_sings():
    # Touch is safe an hour after a coat of an hour: 15:00 is too late for 16:00.
    job = job_of((coat(),), materials=(SMELLY,), now=at(3, "14:30"))
    assert stint(planned(job), 1).start == at(3, "14:30")
    job = with_site(job, smell_free=hours("16:00", "20:00", days="thu"))
    found = stint(planned(job), 1)
    assert found.start == at(4, "08:00")
    assert found.reason.code == "smell"
    assert "Smell-free Thu 15 Oct 16:00 to Thu 15 Oct 20:00" in found.reason.text
    early = moved((found,), "wall-1", "coat", at(3, "14:30"))
    assert broken_rules(job, early) == {"smell"}
    water = replace(job, materials=(paint(),))
    assert stint(planned(water), 1).start == at(3, "14:30")


def test_a_step_that_makes_solvent_ends_before_the_hours_of_the_room_next_door():
    job = job_of((dry("coat", makes=("solvent",)),), now=at(3, "15:30"))
    rooms = (
        replace(job.rooms[0], connected=("choir",)),
        RoomFactory(id="choir", smell_free=hours("16:00", "20:00")),
    )
    job = replace(job, rooms=rooms)
    found = stint(planned(job), 1)
    assert found.start == at(4, "08:00")
    early = moved((found,), "wall-1", "coat", at(3, "15:30"))
    assert broken_rules(job, early) == {"smell"}
    shut_off = replace(job, rooms=(replace(rooms[0], connected=()), rooms[1]))
    assert stint(planned(shut_off), 1).start == at(3, "15:30")


def test_smell_free_hours_all_day_leave_no_plan_and_say_so():
    job = with_site(
        job_of((coat(),), materials=(SMELLY,)), smell_free=hours("00:00", "24:00")
    )
    (reason,) = no_plan(job)
    assert reason.code == "smell"
    assert "smell-free hours leave no time" in reason.text


# -- other trades ----------------------------------------------------------------------


def carpenter(start, end, **more):
    """A carpenter in the room on Monday from and to these clock times."""
    trade = TradeFactory(start=at(0, start), end=at(0, end), **more)
    return {"others": (trade,)}


def test_nobody_works_in_a_room_while_the_carpenter_has_it():
    for step in (coat(), dry("coat")):
        job = job_of((step,))
        assert stint(planned(job), 1).start == at(0, "08:00")
        job = with_room(job, **carpenter("07:30", "10:00"))
        found = stint(planned(job), 1)
        assert found.start == at(0, "10:00")
        assert found.reason.code == "trade"
        assert found.reason.text == (
            "The carpenter: in the room until Mon 12 Oct 10:00."
        )
        early = moved((found,), "wall-1", "coat", at(0, "09:00"))
        assert broken_rules(job, early) == {"trade"}


def test_a_coat_may_dry_behind_a_trade_that_makes_nothing():
    job = with_room(job_of((coat(),)), **carpenter("09:00", "16:30"))
    assert stint(planned(job), 1).start == at(0, "08:00")


def test_a_carpenters_dust_next_door_keeps_open_coats_away_until_it_settles():
    job = job_of((coat(),))
    makes = carpenter("09:30", "11:00", makes=("dust",))
    hall = RoomFactory(id="hall", connected=("room",), **makes)
    job = replace(job, rooms=(*job.rooms, hall))
    found = stint(planned(job), 1)
    assert found.start == at(0, "12:30")  # settled at 12:00, then lunch
    assert found.reason.code == "trade-air"
    for clock in ("08:00", "10:00", "11:30"):
        early = moved((found,), "wall-1", "coat", at(0, clock))
        assert "trade-air" in broken_rules(job, early)
    shut_off = replace(job, rooms=(job.rooms[0], replace(hall, connected=())))
    assert stint(planned(shut_off), 1).start == at(0, "08:00")


def test_a_test_does_not_stand_in_a_carpenters_room():
    slow = MaterialFactory(
        id="material",
        family="oil-size",
        labels={"tack": (60, 300), "closes": (200, 420)},
    )
    job = job_of((coat("size", 30), dry("leaf", 60)), materials=(slow,))
    free = stint(planned(job), 1, "leaf", "test")
    others = (TradeFactory(start=free.start, end=free.end),)
    job = with_room(job, others=others)
    plan = planned(job)  # audited on the way
    test = stint(plan, 1, "leaf", "test")
    assert test.end <= free.start or free.end <= test.start
    assert "trade" in broken_rules(
        job, (replace(test, start=free.start, end=free.end),)
    )


def test_a_trade_that_stays_leaves_no_plan_and_is_named():
    trade = TradeFactory(start=at(-1, "08:00"), end=at(400, "16:00"))
    (reason,) = no_plan(with_room(job_of((coat(),)), others=(trade,)))
    assert reason.code == "trade"
    assert "The carpenter has the room" in reason.text


# -- top before bottom -----------------------------------------------------------------


def test_a_room_in_any_order_lets_the_trim_go_before_the_ceiling():
    job = job_of((coat(),), (coat(),), kinds=("ceiling", "trim"))
    gate = GateFactory(name="tower up", not_before=at(1, "08:00"))
    job = with_surface(job, 1, gates=(gate,))
    assert stint(planned(job), 2).start == at(1, "09:00")
    free = with_room(job, any_order=True)
    plan = planned(free)
    assert stint(plan, 2).start == at(0, "08:00")
    assert broken_rules(job, plan.stints) == {"order"}
    assert broken_rules(free, plan.stints) == set()

    def held(job):
        return {s.surface.id: s.held_by for s in ready(job, at=job.now)}["wall-2"]

    assert held(job)[0].code == "order"
    assert held(free) == ()


# -- gates that shut and hand-back -----------------------------------------------------


def two_walls():
    """Two walls of six hours' work for one hand: one is done on Tuesday."""
    return job_of((coat(minutes=240),), (coat(minutes=240),))


def test_a_wall_is_done_before_its_tower_is_taken_down():
    """Left alone the wall with the higher priority comes first."""
    job = with_surface(two_walls(), 1, priority=1)
    assert stint(planned(job), 1).start == at(0, "08:00")
    down = GateFactory(name="the tower", not_before=None, not_after=at(0, "13:00"))
    job = with_surface(job, 2, gates=(down,))
    plan = planned(job)
    assert stint(plan, 2).end <= at(0, "13:00")
    late = moved(plan.stints, "wall-2", "coat", at(1, "08:00"))
    assert broken_rules(job, late) == {"shuts"}


def test_a_tower_taken_down_before_the_first_hour_is_no_plan_and_named():
    down = GateFactory(name="the tower", not_before=None, not_after=at(0, "09:00"))
    job = with_surface(job_of((coat(minutes=240),)), 1, gates=(down,))
    (reason,) = no_plan(job)
    assert reason.code == "shuts"
    assert "the tower shuts before it could be done" in reason.text


def test_a_room_handed_back_is_done_and_dry_to_touch():
    """Four hours' work and an hour to touch end by the hand-back at half past two."""
    job = with_surface(two_walls(), 2, room="other")
    other = RoomFactory(id="other", name="Hall", hand_back=at(0, "14:30"))
    first = with_surface(job, 1, priority=1)
    free = replace(first, rooms=(*first.rooms, replace(other, hand_back=None)))
    assert stint(planned(free), 1).start == at(0, "08:00")
    job = replace(first, rooms=(*first.rooms, other))
    plan = planned(job)
    found = stint(plan, 2)
    assert found.ready["touch"].safe <= at(0, "14:30")
    late = moved(plan.stints, "wall-2", "coat", at(1, "08:00"))
    assert broken_rules(job, late) == {"hand-back"}


def test_a_coat_that_is_done_but_tacky_at_the_hand_back_is_no_plan():
    job = with_room(job_of((coat(minutes=240),)), hand_back=at(0, "12:50"))
    (reason,) = no_plan(job)
    assert reason.code == "hand-back"
    assert "handed back before it could be done and dry to touch" in reason.text


def test_work_after_the_last_coat_ends_by_the_hand_back_too():
    job = job_of((coat(), dry("unmask", 30.0)))
    job = with_room(job, hand_back=at(0, "14:00"))
    plan = planned(job)
    assert stint(plan, 1, "unmask").end <= at(0, "14:00")
    late = moved(plan.stints, "wall-1", "unmask", at(1, "09:00"))
    assert broken_rules(job, late) == {"hand-back"}


# -- early and late in the day --------------------------------------------------------


def test_a_step_that_is_wanted_late_ends_with_the_day_where_nothing_is_lost():
    # Size in the evening, leaf next morning; common practice, no source.
    tack = MaterialFactory(
        id="material", family="oil-size", labels={"tack": 720.0, "closes": 2880.0}
    )
    size = coat("size", 30)
    plain = job_of((size, dry("leaf", 60)), materials=(tack,))
    assert stint(planned(plain), 1, "size").start == at(0, "08:00")
    wanted = replace(size, prefers="late")
    job = job_of((wanted, dry("leaf", 60)), materials=(tack,))
    found = planned(job)
    laid = stint(found, 1, "size")
    assert laid.end == at(0, "16:30")
    assert laid.reason.code == "prefers"
    assert found.finish == planned(plain).finish


def test_a_wish_for_the_evening_never_costs_the_finish():
    job = job_of((replace(coat(), prefers="late"), coat("second")))
    assert stint(planned(job), 1).start == at(0, "08:00")


def test_a_step_that_is_wanted_early_goes_before_one_that_does_not_mind():
    steps = (replace(coat(), prefers="early"),), (coat(),)
    found = planned(job_of(*steps))
    assert stint(found, 1).start == at(0, "08:00")
    steps = steps[1], steps[0]
    assert stint(planned(job_of(*steps)), 2).start == at(0, "08:00")


def test_a_plan_made_at_once_says_that_it_does_not_listen_to_such_a_wish():
    job = job_of((replace(coat(), prefers="late"),))
    plan = plan_job(job, at=job.now, budget=0)
    assert any("wished early or late" in note for note in plan.notes)
