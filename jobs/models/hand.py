"""The crew of a job."""

from django.db import models

from jobs.models.job import Job
from jobs.models.rows import KeyedRow, keys_unique_in


class Hand(KeyedRow):
    """A crew member. Without own ``hours`` the site's count."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="hands")
    skills = models.JSONField(default=list, blank=True)
    hours = models.JSONField(null=True, blank=True)
    away = models.JSONField(default=list, blank=True)

    class Meta(KeyedRow.Meta):
        constraints = (keys_unique_in("job", "hand"),)
