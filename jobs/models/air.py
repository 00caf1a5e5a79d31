"""Air measured in rooms and expected outdoors."""

from django.core.exceptions import ValidationError
from django.db import models

from jobs.models.company import User
from jobs.models.job import Job, Room
from jobs.models.rows import ListedRow, within

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
    """A hygrometer's word on one room; ``surface_c`` where a wall was measured."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="readings")
    room = models.ForeignKey(Room, models.CASCADE, related_name="readings")
    at = models.DateTimeField()
    temperature_c = models.FloatField()
    humidity_pct = models.FloatField()
    surface_c = models.FloatField(null=True, blank=True)
    taken_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta(ListedRow.Meta):
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
