"""The records, one noun family a file; everything belongs to a company."""

from jobs.models.air import (
    Forecast,
    ForecastHour,
    MoistureReading,
    Reading,
    WeatherService,
)
from jobs.models.closing import ClosingTick
from jobs.models.company import Company, User
from jobs.models.feed import CalendarEntry, FeedLink
from jobs.models.hand import Hand
from jobs.models.job import DateWish, Job, Room, Surface
from jobs.models.people import Invitation, SignedIn
from jobs.models.plan import (
    Ban,
    ForwardRun,
    Pin,
    Plan,
    PlanRun,
    Stint,
    TurnRun,
    WorkerBeat,
)
from jobs.models.recipe import (
    Coat,
    CoatTest,
    Material,
    MaterialVersion,
    Recipe,
    RecipeVersion,
    Step,
)
from jobs.models.sample import Sample
from jobs.models.sensor import SensorLink
from jobs.models.tap import Tap

__all__ = [
    "Ban",
    "CalendarEntry",
    "ClosingTick",
    "Coat",
    "CoatTest",
    "Company",
    "DateWish",
    "FeedLink",
    "Forecast",
    "ForecastHour",
    "ForwardRun",
    "Hand",
    "Invitation",
    "Job",
    "Material",
    "MaterialVersion",
    "MoistureReading",
    "Pin",
    "Plan",
    "PlanRun",
    "Reading",
    "Recipe",
    "RecipeVersion",
    "Room",
    "Sample",
    "SensorLink",
    "SignedIn",
    "Step",
    "Stint",
    "Surface",
    "Tap",
    "TurnRun",
    "User",
    "WeatherService",
    "WorkerBeat",
]
