"""What goes on, in which order, and what has gone on: materials, recipes, coats."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from jobs.models.company import User
from jobs.models.job import Job, Surface
from jobs.models.rows import KeyedRow, KeyField, ListedRow, keys_unique_in, within
from scheduling.problem import FAMILIES, THICKEST_COAT, THINNEST_COAT


class Material(KeyedRow):
    """What a coat is made of, as its label tells."""

    Family = models.TextChoices(
        "Family", [(name.upper().replace("-", "_"), name) for name in FAMILIES]
    )

    job = models.ForeignKey(Job, models.CASCADE, related_name="materials")
    family = models.CharField(max_length=12, choices=Family)
    label_air = models.JSONField()
    labels = models.JSONField(blank=True)
    points = models.JSONField(default=list, blank=True)
    promises = models.JSONField(default=dict, blank=True)
    water_share = models.FloatField(null=True, blank=True)
    spread_m2_per_l = models.FloatField(null=True, blank=True)
    parts = models.JSONField(default=dict, blank=True)
    oily = models.BooleanField(default=False)
    solvent = models.BooleanField(default=False)
    tins_l = models.JSONField(default=list, blank=True)
    lead_days = models.PositiveSmallIntegerField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta(KeyedRow.Meta):
        constraints = (
            keys_unique_in("job", "material"),
            models.CheckConstraint(
                condition=Q(water_share=None)
                | Q(water_share__gte=0, water_share__lte=1),
                name="material_water_is_a_share",
            ),
        )


class Recipe(KeyedRow):
    """The steps of a finish, in order."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="recipes")
    version = models.PositiveIntegerField(default=1)

    class Meta(KeyedRow.Meta):
        constraints = (keys_unique_in("job", "recipe"),)


class _OldVersion(models.Model):
    """What a row said before it was changed; ``content`` is its JSON in the format.

    The version in use is no row of these: it is the recipe's or material's own.
    """

    number = models.PositiveIntegerField()
    content = models.JSONField()
    until = models.DateTimeField()
    changed_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    why = models.CharField(max_length=200, blank=True)  # for people

    class Meta:
        abstract = True
        ordering = ("-number",)

    def __str__(self) -> str:
        return f"version {self.number}"


class RecipeVersion(_OldVersion):
    """A recipe as it was."""

    recipe = models.ForeignKey(Recipe, models.CASCADE, related_name="versions")

    class Meta(_OldVersion.Meta):
        constraints = (
            models.UniqueConstraint(
                fields=("recipe", "number"), name="recipe_version_number_unique"
            ),
        )


class MaterialVersion(_OldVersion):
    """A material as its label was."""

    material = models.ForeignKey(Material, models.CASCADE, related_name="versions")

    class Meta(_OldVersion.Meta):
        constraints = (
            models.UniqueConstraint(
                fields=("material", "number"), name="material_version_number_unique"
            ),
        )


class Step(KeyedRow):
    """One step of a recipe. Without a material it puts nothing on (sanding, leaf)."""

    recipe = models.ForeignKey(Recipe, models.CASCADE, related_name="steps")
    material = models.ForeignKey(
        Material, models.RESTRICT, null=True, blank=True, related_name="steps"
    )
    after = models.JSONField(null=True, blank=True)
    rescue = models.JSONField(null=True, blank=True)
    apply_min_m2 = models.FloatField()
    work_min_m2 = models.FloatField(default=0.0)
    setup_min = models.FloatField(default=0.0)
    hands_least = models.PositiveSmallIntegerField()
    hands_most = models.PositiveSmallIntegerField(null=True, blank=True)
    skill = KeyField(blank=True)
    wet = models.BooleanField(default=False)
    splits = models.BooleanField(default=False)
    makes = models.JSONField(default=list, blank=True)
    coat = models.FloatField(default=1.0)  # times the label's thickness
    seals = models.BooleanField(null=True, blank=True)
    prefers = models.CharField(
        max_length=5, blank=True, choices=[("early", "early"), ("late", "late")]
    )
    same_hand = models.BooleanField(default=False)

    class Meta(KeyedRow.Meta):
        constraints = (
            keys_unique_in("recipe", "step"),
            models.CheckConstraint(
                condition=Q(hands_least__gte=1)
                & (Q(hands_most=None) | Q(hands_most__gte=F("hands_least"))),
                name="step_hands_most_is_no_less",
                violation_error_message="The most hands are no fewer than the least.",
            ),
            models.CheckConstraint(
                condition=Q(apply_min_m2__gte=0, work_min_m2__gte=0, setup_min__gte=0),
                name="step_minutes_are_not_negative",
            ),
            models.CheckConstraint(
                condition=within("coat", THINNEST_COAT, THICKEST_COAT),
                name="step_coat_is_a_thickness",
                violation_error_message="A coat is 0.1 to 10 times the label's.",
            ),
        )


class _AtTheWall(models.Model):
    """A step of a surface's own recipe, on the whole surface or one section."""

    surface = models.ForeignKey(Surface, models.CASCADE, related_name="%(class)ss")
    step = models.ForeignKey(Step, models.CASCADE, related_name="%(class)ss")
    section = KeyField(blank=True)

    class Meta:
        abstract = True

    def clean(self) -> None:
        super().clean()
        if self.surface_id is None or self.step_id is None:
            return
        if self.step.recipe_id != self.surface.recipe_id:
            raise ValidationError({"step": "Choose a step of this surface's recipe."})
        if self.section and self.section not in (self.surface.sections or ["1"]):
            known = ", ".join(self.surface.sections) or "none"
            raise ValidationError({"section": f"Choose one of: {known}."})


class Coat(_AtTheWall, ListedRow):
    """The logged fact: this step was done on this surface, from then to then."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="coats")
    start = models.DateTimeField()
    end = models.DateTimeField()
    logged_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    logged_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta(ListedRow.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(end__gte=F("start")),
                name="coat_ends_after_it_starts",
                violation_error_message="The end is no earlier than the start.",
            ),
        )

    def __str__(self) -> str:
        return f"{self.step} on {self.surface}"


class CoatTest(_AtTheWall):
    """What a test at the wall said before ``step``: it, not the clock, says go."""

    class Result(models.TextChoices):
        READY = "ready", "Ready"
        NOT_YET = "not-yet", "Not yet"
        PAST = "past", "Past its window"

    job = models.ForeignKey(Job, models.CASCADE, related_name="coat_tests")
    result = models.CharField(max_length=8, choices=Result)
    at = models.DateTimeField()
    logged_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.get_result_display()}: {self.step} on {self.surface}"
