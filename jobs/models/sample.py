"""Samples: a coat watched with a clock and a hygrometer beside it."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from jobs.models.company import User
from jobs.models.recipe import Material
from jobs.models.rows import within


class Sample(models.Model):
    """One watched coat of a material: minutes from laying to each stage, in one air.

    ``version`` is the material's that it made, None while its label has not followed.
    """

    material = models.ForeignKey(Material, models.CASCADE, related_name="samples")
    laid_at = models.DateTimeField()
    temperature_c = models.FloatField()
    humidity_pct = models.FloatField()
    minutes = models.JSONField()  # by stage
    logged_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    logged_at = models.DateTimeField(default=timezone.now, editable=False)
    version = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ("-laid_at", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=within("temperature_c", -30, 60)
                & within("humidity_pct", 0, 100),
                name="sample_air_can_be",
            ),
            models.CheckConstraint(
                condition=Q(version=None) | Q(version__gte=2),
                name="sample_version_is_a_change",
            ),
        )

    def __str__(self) -> str:
        return f"sample of {self.material}"
