"""Links without an account, and the calendar entries that issued plans have published.

An entry holds what subscribers were told and is kept for good: a stint that comes back
after it was cancelled is the same entry.
"""

import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from jobs.models.company import Company, User
from jobs.models.job import Job
from jobs.models.rows import KeyField

# Assumed: long enough for a phone that is seldom asked, short enough not to pile up.
CANCELLED_KEPT = timedelta(days=14)


class FeedLink(models.Model):
    """An address that needs no account: a calendar, my walls, the client's page.

    Whoever has the token can read it, so only the token's SHA-256 is kept.
    """

    class Purpose(models.TextChoices):
        CALENDAR = "calendar", "Calendar"
        WALLS = "walls", "My walls"  # of a hand
        CLIENT = "client", "The client's page"  # of the job

    company = models.ForeignKey(Company, models.CASCADE, related_name="feed_links")
    job = models.ForeignKey(Job, models.CASCADE, related_name="feed_links")
    hand_key = KeyField(blank=True)
    room_key = KeyField(blank=True)  # with neither, the whole job
    purpose = models.CharField(max_length=12, choices=Purpose, default=Purpose.CALENDAR)
    # Phones do not sign in: those of the person who made the address.
    units = models.CharField(
        max_length=8, choices=User.Units, default=User.Units.METRIC
    )
    token_sha256 = models.CharField(max_length=64, unique=True, editable=False)
    uid = models.UUIDField(default=uuid.uuid4, editable=False)  # of its own notices
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    last_used_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("job", "hand_key", "room_key", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(hand_key="") | Q(room_key=""),
                name="feed_link_is_for_one_thing",
                violation_error_message="A link is for a hand or a room, not both.",
            ),
            models.CheckConstraint(
                condition=Q(purpose="calendar")
                | Q(purpose="walls", room_key="") & ~Q(hand_key="")
                | Q(purpose="client", hand_key="", room_key=""),
                name="feed_link_is_for_whom_it_is_meant",
                violation_error_message=(
                    "My walls are of a hand, the client's page is of the job."
                ),
            ),
            models.UniqueConstraint(
                fields=("job", "hand_key", "room_key", "purpose"),
                condition=Q(revoked_at=None),
                name="feed_link_live_once",
                violation_error_message="This has a working address already.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.job}: {self.hand_key or self.room_key or 'the whole job'}"

    @property
    def is_live(self) -> bool:
        """Whether it shows anything; a switched-off one only says that it is."""
        return self.revoked_at is None


class KeysField(models.TextField):
    """A few keys between bars, ``|ann|ben|``: any database can look for one of them."""

    def from_db_value(self, value, expression, connection):
        return split_keys(value)

    def to_python(self, value):
        return split_keys(value) if isinstance(value, str) else tuple(value)

    def get_prep_value(self, value):
        return value if isinstance(value, str) else join_keys(value)

    def value_to_string(self, obj):
        return self.get_prep_value(self.value_from_object(obj))


def join_keys(keys: Iterable[str]) -> str:
    """``|ann|ben|``; no keys are an empty text."""
    keys = tuple(keys)
    return f"|{'|'.join(keys)}|" if keys else ""


def split_keys(text: str) -> tuple[str, ...]:
    """The keys in ``|ann|ben|``."""
    return tuple(key for key in text.split("|") if key)


class EntryQuerySet(models.QuerySet["CalendarEntry"]):
    """Entries as a feed needs them."""

    def of_hand(self, hand_key: str, *, left_since: datetime) -> "EntryQuerySet":
        """Those of a hand, and those the hand was lately taken off."""
        key = f"|{hand_key}|"
        return self.filter(
            Q(hands__contains=key)
            | Q(left_hands__contains=key, left_at__gte=left_since)
        )


class CalendarEntry(models.Model):
    """The published facts of one stint: the work, its drying, its window or a test."""

    class Kind(models.TextChoices):
        WORK = "work", "Work"
        DRYING = "drying", "Drying"
        WINDOW = "window", "Window"
        TEST = "test", "Test"

    class Status(models.TextChoices):
        CONFIRMED = "CONFIRMED", "Confirmed"
        TENTATIVE = "TENTATIVE", "Hangs on the forecast"
        CANCELLED = "CANCELLED", "Cancelled"

    job = models.ForeignKey(Job, models.CASCADE, related_name="calendar_entries")
    stint_key = KeyField()  # its id in the plan, the same from plan to plan
    kind = models.CharField(max_length=8, choices=Kind)
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    sequence = models.PositiveIntegerField(default=0)
    last_modified = models.DateTimeField()  # when the published facts last changed
    cancelled_at = models.DateTimeField(null=True, blank=True)

    room_key = KeyField(blank=True)
    surface_key = KeyField()
    section = KeyField(blank=True)
    step_key = KeyField()
    hands = KeysField(default=(), blank=True)  # whose calendars it is in
    left_hands = KeysField(default=(), blank=True)  # taken off it at ``left_at``
    left_at = models.DateTimeField(null=True, blank=True)

    status = models.CharField(max_length=10, choices=Status)
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    summary = models.TextField()
    description = models.TextField(blank=True)
    location = models.TextField(blank=True)
    categories = models.JSONField(default=list, blank=True)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)

    objects = EntryQuerySet.as_manager()

    class Meta:
        ordering = ("starts", "pk")
        verbose_name_plural = "calendar entries"
        constraints = (
            models.UniqueConstraint(
                fields=("job", "stint_key", "kind"), name="calendar_entry_once"
            ),
            models.CheckConstraint(
                condition=Q(ends__gte=F("starts")), name="calendar_entry_ends_later"
            ),
            models.CheckConstraint(
                condition=Q(status="CANCELLED", cancelled_at__isnull=False)
                | (~Q(status="CANCELLED") & Q(cancelled_at=None)),
                name="calendar_entry_says_when_cancelled",
            ),
        )
        indexes = (models.Index(fields=("job", "starts"), name="entry_by_start"),)

    def __str__(self) -> str:
        return self.summary
