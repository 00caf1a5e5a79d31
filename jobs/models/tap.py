"""What hands send from their walls by a link, and problems said by who is signed in."""

from django.conf import settings
from django.db import models

from jobs.models.air import Reading
from jobs.models.feed import FeedLink
from jobs.models.job import Job
from jobs.models.recipe import Coat, CoatTest
from jobs.models.rows import KeyField


class Tap(models.Model):
    """One thing that a hand sent, and the record that it made, if it made one.

    ``key`` comes from the form: the same one again, by a double tap or a retry when the
    line is back, is the same tap. By ids alone, so that it outlives a changed surface;
    it stays when its record is taken back, so that a late retry does not make it anew.
    Who is signed in needs no link and only says problems: ``by`` and not ``link``.
    """

    class Kind(models.TextChoices):
        DONE = "done", "Done"
        TEST = "test", "Test"
        SET = "set", "Set"
        READING = "reading", "Reading"
        PROBLEM = "problem", "Problem"

    class Problem(models.TextChoices):
        NOT_READY = "not-ready", "What is under it is not ready"
        RUNS = "runs", "Runs or sags"
        PATCHY = "patchy", "Patchy or flashing"
        LIFTING = "lifting", "Lifting or peeling"
        DUST = "dust", "Dust in it"
        DAMP = "damp", "A damp patch"
        SHUT = "shut", "No way in"
        SHORT = "short", "Material missing"
        CALL = "call", "Something else: call me"

    job = models.ForeignKey(Job, models.CASCADE, related_name="taps")
    link = models.ForeignKey(
        FeedLink, models.CASCADE, null=True, blank=True, related_name="taps"
    )
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.SET_NULL,
        null=True,
        blank=True,
        related_name="taps",
    )
    key = models.UUIDField()
    kind = models.CharField(max_length=8, choices=Kind)
    at = models.DateTimeField()  # when it was tapped
    received_at = models.DateTimeField()  # later where there was no line
    hand_key = KeyField(blank=True)
    room_key = KeyField(blank=True)
    surface_key = KeyField(blank=True)
    section = KeyField(blank=True)
    step_key = KeyField(blank=True)
    minutes = models.SmallIntegerField(null=True, blank=True)  # set late by; early < 0
    problem = models.CharField(max_length=10, choices=Problem, blank=True)
    said = models.CharField(max_length=200)  # for people
    seen_to_at = models.DateTimeField(null=True, blank=True)
    coat = models.ForeignKey(
        Coat, models.SET_NULL, null=True, blank=True, related_name="taps"
    )
    test = models.ForeignKey(
        CoatTest, models.SET_NULL, null=True, blank=True, related_name="taps"
    )
    reading = models.ForeignKey(
        Reading, models.SET_NULL, null=True, blank=True, related_name="taps"
    )

    class Meta:
        ordering = ("-at", "-pk")
        constraints = (
            models.UniqueConstraint(fields=("link", "key"), name="tap_once"),
            models.UniqueConstraint(
                fields=("job", "key"),
                condition=models.Q(link__isnull=True),
                name="tap_once_signed_in",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="set") | models.Q(minutes__isnull=False),
                name="tap_says_how_late_it_set",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="problem") | ~models.Q(problem=""),
                name="tap_says_which_problem",
            ),
        )
        indexes = (models.Index(fields=("job", "kind", "at"), name="tap_by_kind"),)

    def __str__(self) -> str:
        return self.said
