"""A job, its site, rooms, surfaces and dates, named as in the job format.

JSON fields hold exactly the JSON that the format has at that place. Blank text and a
null number or list stand for a key that is not there.
"""

from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from jobs.models.company import Company
from jobs.models.rows import KeyedRow, KeyField, ListedRow, keys_unique_in, within
from scheduling.problem import GROUNDS, KINDS, PROMISES, STAGES


class Job(models.Model):
    """A job and its site. ``key`` is its id in files and in addresses."""

    company = models.ForeignKey(Company, models.CASCADE, related_name="jobs")
    key = KeyField()
    title = models.CharField(max_length=200)
    # The moment an imported file was written for. Kept for the export; pages and plans
    # made here go by the real clock.
    now = models.DateTimeField(null=True, blank=True)
    zone = models.CharField(max_length=64)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)
    altitude_m = models.FloatField(null=True, blank=True)
    hours = models.JSONField()
    closed = models.JSONField(default=list, blank=True)
    quiet = models.JSONField(default=list, blank=True)
    smell_free = models.JSONField(default=list, blank=True)
    typical_air = models.JSONField(default=list, blank=True)
    # Whose word the outdoor hours are, and when it was given.
    outdoors_source = models.CharField(max_length=100, blank=True)
    outdoors_made = models.DateTimeField(null=True, blank=True)
    weather_source = models.CharField(max_length=32, blank=True)  # which service to ask
    waste_pct = models.FloatField(null=True, blank=True)  # beyond what is on the walls
    # The last day on which the watch looked at the air, and what it said of which plan.
    watched_for = models.DateField(null=True, blank=True, editable=False)
    watch_said = models.CharField(max_length=300, blank=True, editable=False)
    watch_plan = models.PositiveIntegerField(null=True, blank=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    # When anything planned from last changed: a plan made before is out of date.
    changed_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("title", "pk")
        constraints = (
            keys_unique_in("company", "job"),
            models.CheckConstraint(
                condition=Q(latitude=None) | within("latitude", -90, 90),
                name="job_latitude_on_earth",
            ),
            models.CheckConstraint(
                condition=Q(longitude=None) | within("longitude", -180, 180),
                name="job_longitude_on_earth",
            ),
        )

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        return reverse("job", kwargs={"job": self.key})

    @property
    def tz(self) -> ZoneInfo:
        """The site's time zone, in which people read its times."""
        return ZoneInfo(self.zone)


class Room(KeyedRow):
    """A room: its size, its air, who may be in it when."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="rooms")
    volume_m3 = models.FloatField()
    air = models.JSONField()  # changes_per_h, day_c, night_c ..., or given hours
    access = models.JSONField(null=True, blank=True)
    opens = models.JSONField(default=list, blank=True)
    connected = models.JSONField(default=list, blank=True)  # keys of rooms
    hands_most = models.PositiveSmallIntegerField(null=True, blank=True)
    hand_back = models.DateTimeField(null=True, blank=True)
    smell_free = models.JSONField(default=list, blank=True)
    others = models.JSONField(default=list, blank=True)  # other trades: from, to, makes
    any_order = models.BooleanField(default=False)

    class Meta(KeyedRow.Meta):
        constraints = (
            keys_unique_in("job", "room"),
            models.CheckConstraint(
                condition=Q(volume_m3__gt=0), name="room_has_a_volume"
            ),
        )


class Surface(KeyedRow):
    """A wall, ceiling, door ... of a room, with the recipe it gets."""

    Kind = models.TextChoices("Kind", [(kind.upper(), kind) for kind in KINDS])
    Ground = models.TextChoices("Ground", [(name.upper(), name) for name in GROUNDS])

    job = models.ForeignKey(Job, models.CASCADE, related_name="surfaces")
    room = models.ForeignKey(Room, models.CASCADE, related_name="surfaces")
    recipe = models.ForeignKey("jobs.Recipe", models.RESTRICT, related_name="surfaces")
    kind = models.CharField(max_length=8, choices=Kind)
    width_m = models.FloatField()
    height_m = models.FloatField()
    openings_m2 = models.FloatField(default=0.0)
    stop_lines_m = models.JSONField(default=list, blank=True)
    outside = models.BooleanField(default=False)
    u_w_m2k = models.FloatField(null=True, blank=True)
    sun = models.JSONField(default=list, blank=True)
    priority = models.SmallIntegerField(null=True, blank=True)
    gates = models.JSONField(default=list, blank=True)
    ground = models.CharField(max_length=8, choices=Ground, blank=True)
    opposite = KeyField(blank=True)  # key of the wall across the room

    class Meta(KeyedRow.Meta):
        constraints = (
            keys_unique_in("job", "surface"),
            models.CheckConstraint(
                condition=Q(width_m__gt=0, height_m__gt=0, openings_m2__gte=0),
                name="surface_has_a_size",
            ),
            models.CheckConstraint(
                condition=Q(openings_m2__lt=models.F("width_m") * models.F("height_m")),
                name="surface_is_more_than_openings",
            ),
        )

    def clean(self) -> None:
        super().clean()
        for field in ("room", "recipe"):
            other = getattr(self, field, None)
            if other is not None and other.job_id != self.job_id:
                raise ValidationError({field: f"Choose a {field} of this job."})

    @property
    def area_m2(self) -> float:
        """Net area: width times height less openings."""
        return self.width_m * self.height_m - self.openings_m2

    @property
    def labour_m2(self) -> float:
        """Area with its openings: masking and edges cost what leaving them out saves.

        Common practice, no source; plans count minutes on the net area.
        """
        return self.width_m * self.height_m

    @property
    def sections(self) -> list[str]:
        """Ids of the parts between stop lines, left to right; none on a whole wall."""
        count = len(self.stop_lines_m)
        return [str(number) for number in range(1, count + 2)] if count else []


class DateWish(ListedRow):
    """A date for a surface, a room or, with neither, the job."""

    Stage = models.TextChoices("Stage", [(name.upper(), name) for name in STAGES])
    Promise = models.TextChoices("Promise", [(name.upper(), name) for name in PROMISES])

    job = models.ForeignKey(Job, models.CASCADE, related_name="dates")
    surface = models.ForeignKey(
        Surface, models.CASCADE, null=True, blank=True, related_name="dates"
    )
    room = models.ForeignKey(
        Room, models.CASCADE, null=True, blank=True, related_name="dates"
    )
    by = models.DateTimeField()
    must = models.BooleanField()
    stage = models.CharField(max_length=8, choices=Stage, blank=True)
    promise = models.CharField(max_length=8, choices=Promise, blank=True)
    weight = models.FloatField(default=1.0)

    class Meta(ListedRow.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(surface=None) | Q(room=None),
                name="date_is_for_one_thing",
                violation_error_message="A date is for a surface or a room, not both.",
            ),
            models.CheckConstraint(
                condition=(Q(stage="") & ~Q(promise=""))
                | (~Q(stage="") & Q(promise="")),
                name="date_is_a_stage_or_a_promise",
                violation_error_message="Give either a stage or a promise.",
            ),
            models.CheckConstraint(
                condition=Q(weight__gt=0, weight__lte=1000), name="date_weight_counts"
            ),
        )

    def __str__(self) -> str:
        return f"{self.surface or self.room or 'the job'} {self.stage or self.promise}"
