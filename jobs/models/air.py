"""Air measured in rooms and expected outdoors, and moisture measured in the ground."""

from django.core.exceptions import ValidationError
from django.db import models

from jobs.models.company import User
from jobs.models.job import Job, Room, Surface
from jobs.models.rows import ListedRow, within
from scheduling.problem import STUFFS, WETTEST_PCT

# What the job format allows: Earth's records are -89 and 57 C.
COLDEST_C, HOTTEST_C = -60.0, 70.0


def _an_air(model: str) -> models.CheckConstraint:
    return models.CheckConstraint(
        condition=within("temperature_c", COLDEST_C, HOTTEST_C)
        & within("humidity_pct", 0, 100),
        name=f"{model}_is_an_air",
        violation_error_message=(
            "Give a temperature from -60 to 70 °C and a humidity from 0 to 100 %."
        ),
    )


class Reading(ListedRow):
    """A hygrometer's word on one room; ``surface_c`` where a wall was measured.

    ``via`` says what brought it where no person typed it.
    """

    class Via(models.TextChoices):
        FILE = "file", "A logger's file"
        SENSOR = "sensor", "A sensor"

    job = models.ForeignKey(Job, models.CASCADE, related_name="readings")
    room = models.ForeignKey(Room, models.CASCADE, related_name="readings")
    at = models.DateTimeField()
    temperature_c = models.FloatField()
    humidity_pct = models.FloatField()
    surface_c = models.FloatField(null=True, blank=True)
    taken_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    via = models.CharField(max_length=8, choices=Via, blank=True)

    class Meta(ListedRow.Meta):
        indexes = (models.Index(fields=("room", "at"), name="reading_by_room"),)
        constraints = (
            _an_air("reading"),
            models.CheckConstraint(
                condition=models.Q(surface_c=None)
                | within("surface_c", COLDEST_C, HOTTEST_C),
                name="reading_surface_is_a_temperature",
            ),
        )

    def __str__(self) -> str:
        return f"{self.room}: {self.temperature_c:g} °C, {self.humidity_pct:g} %"

    def clean(self) -> None:
        super().clean()
        if self.room_id is not None and self.room.job_id != self.job_id:
            raise ValidationError({"room": "Choose a room of this job."})


class MoistureReading(ListedRow):
    """A moisture meter's word on a surface, or on a room's wood or its plaster."""

    Stuff = models.TextChoices("Stuff", [(name.upper(), name) for name in STUFFS])

    job = models.ForeignKey(Job, models.CASCADE, related_name="moisture")
    surface = models.ForeignKey(
        Surface, models.CASCADE, null=True, blank=True, related_name="moisture"
    )
    room = models.ForeignKey(
        Room, models.CASCADE, null=True, blank=True, related_name="moisture"
    )
    at = models.DateTimeField()
    moisture_pct = models.FloatField()
    of = models.CharField(max_length=8, choices=Stuff, blank=True)

    class Meta(ListedRow.Meta):
        constraints = (
            models.CheckConstraint(
                condition=within("moisture_pct", 0, WETTEST_PCT),
                name="moisture_is_a_share",
                violation_error_message="Give a moisture from 0 to 200 %.",
            ),
            models.CheckConstraint(
                condition=models.Q(surface=None, room__isnull=False) & ~models.Q(of="")
                | models.Q(surface__isnull=False, room=None),
                name="moisture_is_of_one_thing",
                violation_error_message=(
                    "A reading is of a surface, or of a room's wood or its plaster."
                ),
            ),
        )

    def __str__(self) -> str:
        return f"{self.surface or self.room}: {self.moisture_pct:g} %"


class Forecast(models.Model):
    """The last good weather that a source gave for a job, whether planned from or not.

    ``source`` is a service's key, ``file`` or ``typed``. ``hours`` are as the job
    format's outdoors. A bad reply changes no row: what was good stays, and grows old.
    """

    job = models.ForeignKey(Job, models.CASCADE, related_name="forecasts")
    source = models.CharField(max_length=32)
    name = models.CharField(max_length=100)  # of the source, as people read it
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    altitude_m = models.FloatField(null=True, blank=True)
    made_at = models.DateTimeField()
    fetched_at = models.DateTimeField()
    checked_at = models.DateTimeField()  # still the newest at that moment
    expires_at = models.DateTimeField(null=True, blank=True)
    etag = models.CharField(max_length=200, blank=True)
    last_modified = models.CharField(max_length=100, blank=True)
    hours = models.JSONField()
    cautions = models.JSONField(default=list, blank=True)
    by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    taken_at = models.DateTimeField(null=True, blank=True)  # None: only looked at
    # Not to be looked at, but kept: a service is not asked again before it expires.
    thrown_away = models.BooleanField(default=False)

    class Meta:
        ordering = ("-checked_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("job", "source"), name="forecast_last_of_a_source"
            ),
        )

    def __str__(self) -> str:
        return f"{self.name}, made {self.made_at:%d %b %H:%M}"


class WeatherService(models.Model):
    """When a service was last asked by any job, and until when it is left alone."""

    name = models.CharField(max_length=32, primary_key=True)
    asked_at = models.DateTimeField(null=True, blank=True)
    not_before = models.DateTimeField(null=True, blank=True)
    said = models.CharField(max_length=300, blank=True)  # why it is left alone

    def __str__(self) -> str:
        return self.name


class ForecastHour(ListedRow):
    """The air outdoors from ``at`` until the next row."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="outdoors")
    at = models.DateTimeField()
    temperature_c = models.FloatField()
    humidity_pct = models.FloatField()
    wind_m_s = models.FloatField(null=True, blank=True)

    class Meta(ListedRow.Meta):
        constraints = (_an_air("forecast_hour"),)

    def __str__(self) -> str:
        return f"{self.at:%d %b %H:%M}: {self.temperature_c:g} °C"
