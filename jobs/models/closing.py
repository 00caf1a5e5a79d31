"""What was ticked off at the end of a day."""

from django.db import models

from jobs.models.company import User
from jobs.models.job import Job


class ClosingTick(models.Model):
    """One thing done before leaving, on one day; ``text`` as it read when ticked."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="closing_ticks")
    day = models.DateField()  # by the site's clock
    item = models.CharField(max_length=160)  # which thing it is, the same all day
    text = models.TextField()
    ticked_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    ticked_at = models.DateTimeField()

    class Meta:
        ordering = ("ticked_at", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("job", "day", "item"), name="closing_tick_once_a_day"
            ),
        )

    def __str__(self) -> str:
        return f"{self.day}: {self.text}"
