"""Addresses that sensors send their readings to, one a room."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from jobs.models.job import Job, Room


class SensorLink(models.Model):
    """An address at which one room's sensor may leave readings, and do nothing else.

    Whoever has the token can write to it, so only the token's SHA-256 is kept.
    """

    job = models.ForeignKey(Job, models.CASCADE, related_name="sensor_links")
    room = models.ForeignKey(Room, models.CASCADE, related_name="sensor_links")
    token_sha256 = models.CharField(max_length=64, unique=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    last_used_at = models.DateTimeField(null=True, blank=True, editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True, editable=False)
    # How often it was used lately: a sensor that floods us is refused.
    counted_from = models.DateTimeField(null=True, blank=True, editable=False)
    counted = models.PositiveIntegerField(default=0, editable=False)
    # What it sent last that could not be kept; blank once it sends sense again.
    trouble = models.CharField(max_length=200, blank=True, editable=False)
    trouble_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("room", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("room",),
                condition=Q(revoked_at=None),
                name="sensor_link_live_once",
                violation_error_message="This room has a working address already.",
            ),
        )

    def __str__(self) -> str:
        return f"Sensor in {self.room}"
