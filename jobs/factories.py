"""Builders of the engine's values with sensible defaults, for the demo job and tests.

``SurfaceFactory(width_m=4)`` is a whole valid surface; ids count up unless given.
``small_job`` is the least job that can be planned.
"""

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import factory

from scheduling import problem

ZONE = "Europe/Lisbon"
MONDAY = datetime(2026, 10, 12, tzinfo=ZoneInfo(ZONE))  # the day the tests stand still
LABEL_AIR = problem.Air(temperature_c=23.0, humidity_pct=50.0)  # ISO 554


class AirFactory(factory.Factory):
    """The air a label's times are given at: 23 C and 50 %."""

    class Meta:
        model = problem.Air

    temperature_c = LABEL_AIR.temperature_c
    humidity_pct = LABEL_AIR.humidity_pct


class AirHourFactory(factory.Factory):
    """Air from Monday midnight on."""

    class Meta:
        model = problem.AirHour

    at = MONDAY
    temperature_c = LABEL_AIR.temperature_c
    humidity_pct = LABEL_AIR.humidity_pct


class ReadingFactory(factory.Factory):
    """A hygrometer read on Monday at half past seven."""

    class Meta:
        model = problem.Reading

    at = MONDAY + timedelta(hours=7.5)
    room = "room"
    temperature_c = 20.0
    humidity_pct = 60.0


class BreakFactory(factory.Factory):
    """Half an hour at noon, for all at once."""

    class Meta:
        model = problem.Break

    start = "12:00"
    end = "12:30"


class HoursFactory(factory.Factory):
    """Monday to Friday from eight to half past four, with a lunch break."""

    class Meta:
        model = problem.Hours

    days = "mon-fri"
    start = "08:00"
    end = "16:30"
    breaks = factory.LazyFunction(lambda: (BreakFactory(),))


class SiteFactory(factory.Factory):
    """A site open for the usual working week."""

    class Meta:
        model = problem.Site

    zone = ZONE
    hours = factory.LazyFunction(lambda: (HoursFactory(),))


class HandFactory(factory.Factory):
    """A hand who can do any step that asks for a finisher, or for no skill."""

    class Meta:
        model = problem.Hand

    id = factory.Sequence(lambda number: f"hand-{number + 1}")
    skills = ("finisher",)


class MaterialFactory(factory.Factory):
    """A dispersion wall paint: touch in 1 h, recoat in 2 to 4 h."""

    class Meta:
        model = problem.Material

    id = factory.Sequence(lambda number: f"material-{number + 1}")
    family = "waterborne"
    label_air = factory.SubFactory(AirFactory)
    labels = factory.LazyFunction(
        lambda: {"open": 10.0, "touch": 60.0, "recoat": (120.0, 240.0)}
    )


class HandsNeededFactory(factory.Factory):
    """One at the wall."""

    class Meta:
        model = problem.HandsNeeded

    least = 1


class StepFactory(factory.Factory):
    """A coat of ``material`` by one hand at 4 minutes a square metre."""

    class Meta:
        model = problem.Step

    id = factory.Sequence(lambda number: f"coat-{number + 1}")
    material = "material"
    apply_min_m2 = 4.0
    hands = factory.SubFactory(HandsNeededFactory)


class RecipeFactory(factory.Factory):
    """Two coats of ``material``, the second when the first may be recoated."""

    class Meta:
        model = problem.Recipe

    id = factory.Sequence(lambda number: f"recipe-{number + 1}")
    steps = factory.LazyFunction(
        lambda: (StepFactory(id="coat-1"), StepFactory(id="coat-2"))
    )


class AirControlFactory(factory.Factory):
    """A heated room with its windows on the latch."""

    class Meta:
        model = problem.AirControl

    changes_per_h = 3.0
    day_c = 20.0
    night_c = 20.0


class GivenAirFactory(factory.Factory):
    """Air held at the label's own for ever."""

    class Meta:
        model = problem.GivenAir

    given = factory.LazyFunction(lambda: (AirHourFactory(),))


class RoomFactory(factory.Factory):
    """A room whose given air is the label's own."""

    class Meta:
        model = problem.Room

    id = factory.Sequence(lambda number: f"room-{number + 1}")
    volume_m3 = 60.0
    air = factory.SubFactory(GivenAirFactory)


class TradeFactory(factory.Factory):
    """A carpenter in the room on Tuesday from eight to noon."""

    class Meta:
        model = problem.Trade

    name = "The carpenter"
    start = MONDAY + timedelta(days=1, hours=8)
    end = MONDAY + timedelta(days=1, hours=12)


class GateFactory(factory.Factory):
    """Something that has happened by Wednesday at eight."""

    class Meta:
        model = problem.Gate

    name = "Scaffold up"
    not_before = MONDAY + timedelta(days=2, hours=8)


class SurfaceFactory(factory.Factory):
    """A wall of ``room`` that gets ``recipe``."""

    class Meta:
        model = problem.Surface

    id = factory.Sequence(lambda number: f"surface-{number + 1}")
    room = "room"
    kind = "wall"
    width_m = 5.0
    height_m = 2.5
    recipe = "recipe"


class CoatFactory(factory.Factory):
    """The first coat on ``wall``, put on Monday from eight to nine."""

    class Meta:
        model = problem.Coat

    surface = "wall"
    step = "coat-1"
    start = MONDAY + timedelta(hours=8)
    end = MONDAY + timedelta(hours=9)


class PinFactory(factory.Factory):
    """The first coat on ``wall`` held on Tuesday at eight."""

    class Meta:
        model = problem.Pin

    surface = "wall"
    step = "coat-1"
    start = MONDAY + timedelta(days=1, hours=8)


class BanFactory(factory.Factory):
    """The first coat on ``wall`` forbidden to its hand."""

    class Meta:
        model = problem.Ban

    surface = "wall"
    step = "coat-1"
    hands = ("hand",)


class DateWishFactory(factory.Factory):
    """The whole job dry to touch by Friday at half past four, if it can be."""

    class Meta:
        model = problem.DateWish

    by = MONDAY + timedelta(days=4, hours=16.5)
    must = False
    job = factory.Maybe(
        factory.LazyAttribute(lambda wish: not (wish.surface or wish.room)),
        yes_declaration="job",
        no_declaration=None,
    )
    surface = None
    room = None
    stage = factory.Maybe("promise", yes_declaration=None, no_declaration="touch")
    promise = None


class JobFactory(factory.Factory):
    """One wall of one room, two coats, one hand, air as on the label."""

    class Meta:
        model = problem.Job

    id = "job"
    title = "One wall"
    site = factory.SubFactory(SiteFactory)
    hands = factory.LazyFunction(lambda: (HandFactory(id="hand"),))
    materials = factory.LazyFunction(lambda: (MaterialFactory(id="material"),))
    recipes = factory.LazyFunction(lambda: (RecipeFactory(id="recipe"),))
    rooms = factory.LazyFunction(lambda: (RoomFactory(id="room"),))
    surfaces = factory.LazyFunction(lambda: (SurfaceFactory(id="wall"),))
    now = MONDAY + timedelta(hours=7.5)


def small_job(**changes: Any) -> problem.Job:
    """The least job that can be planned, with any of its parts replaced.

    Its ids are job, hand, material, recipe (steps coat-1 and coat-2), room and wall;
    ``now`` is Monday 12 October 2026 at 07:30 site time.
    """
    job: problem.Job = JobFactory(**changes)
    return job
