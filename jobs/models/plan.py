"""Plans, the stints they hold, and the runs that make them.

A run's row is the truth about planning; the broker only carries its key.
"""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from jobs.models.company import User
from jobs.models.job import Job, Surface
from jobs.models.recipe import Step
from jobs.models.rows import KeyField, ListedRow


class Pin(ListedRow):
    """A stint held where the lead put it; ``hands`` are keys.

    Without a section the step's first stint.
    """

    job = models.ForeignKey(Job, models.CASCADE, related_name="pins")
    surface = models.ForeignKey(Surface, models.CASCADE, related_name="pins")
    step = models.ForeignKey(Step, models.CASCADE, related_name="pins")
    section = KeyField(blank=True)
    start = models.DateTimeField()
    hands = models.JSONField(default=list, blank=True)

    def __str__(self) -> str:
        return f"{self.step} on {self.surface} held at {self.start}"


class Ban(ListedRow):
    """Hands (their keys) who may not do a step, or a time when nobody may."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="bans")
    surface = models.ForeignKey(Surface, models.CASCADE, related_name="bans")
    step = models.ForeignKey(Step, models.CASCADE, related_name="bans")
    section = KeyField(blank=True)
    hands = models.JSONField(default=list, blank=True)
    start = models.DateTimeField(null=True, blank=True)
    end = models.DateTimeField(null=True, blank=True)

    class Meta(ListedRow.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(start__isnull=True, end__isnull=True)
                | Q(start__lt=models.F("end")),
                name="ban_ends_after_it_starts",
            ),
        )

    def __str__(self) -> str:
        return f"{self.step} on {self.surface} forbidden"


class Plan(models.Model):
    """A numbered plan; ``content`` is the whole of it in the published plan format."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        ISSUED = "issued", "Issued"
        SUPERSEDED = "superseded", "Superseded"

    class Outcome(models.TextChoices):
        PLAN = "plan", "A plan"
        NO_PLAN = "no-plan", "No plan"

    job = models.ForeignKey(Job, models.CASCADE, related_name="plans")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT)
    outcome = models.CharField(max_length=8, choices=Outcome)
    job_sha256 = models.CharField(max_length=64)
    content = models.JSONField()
    # The recipes and materials of its surfaces as they were, in the job format.
    made_with = models.JSONField(default=dict, blank=True)
    finish = models.DateTimeField(null=True, blank=True)
    planned_at = models.DateTimeField()  # the moment it plans from
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("-number",)
        constraints = (
            models.UniqueConstraint(
                fields=("job", "number"), name="plan_number_unique"
            ),
            models.UniqueConstraint(
                fields=("job",), condition=Q(state="issued"), name="plan_issued_once"
            ),
            models.CheckConstraint(
                condition=~Q(state="issued")
                | Q(outcome="plan", issued_at__isnull=False),
                name="plan_issued_is_a_plan",
            ),
        )

    def __str__(self) -> str:
        return f"Plan {self.number}"

    @property
    def is_plan(self) -> bool:
        """A plan, late or not; else ``content`` says why there is none."""
        return self.outcome == self.Outcome.PLAN


class Stint(ListedRow):
    """Planned work as a row, by keys alone: it outlives a changed surface."""

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="stints")
    key = KeyField()  # its id in the plan, the same from plan to plan
    kind = models.CharField(max_length=8)
    room_key = KeyField()
    surface_key = KeyField()
    section = KeyField(blank=True)
    step_key = KeyField()
    hands = models.JSONField(default=list, blank=True)  # keys
    start = models.DateTimeField()
    end = models.DateTimeField()
    reason_code = models.CharField(max_length=40)
    reason_text = models.TextField()
    reason_other = KeyField(blank=True)

    class Meta(ListedRow.Meta):
        constraints = (
            models.UniqueConstraint(fields=("plan", "key"), name="stint_key_unique"),
        )
        indexes = (models.Index(fields=("plan", "start"), name="stint_by_start"),)

    def __str__(self) -> str:
        return self.key


class Run(models.Model):
    """Something the planning worker was asked for: queued, running, how it ended."""

    class State(models.TextChoices):
        QUEUED = "queued", "Waiting to be planned"
        RUNNING = "running", "Being planned"
        DONE = "done", "Planned"
        FAILED = "failed", "Failed"
        STOPPED = "stopped", "Stopped"

    job: models.ForeignKey
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    at = models.DateTimeField()  # the moment to plan from
    requested_by = models.ForeignKey(
        User, models.SET_NULL, null=True, blank=True, related_name="+"
    )
    requested_at = models.DateTimeField(default=timezone.now, editable=False)
    started_at = models.DateTimeField(null=True, blank=True)
    heartbeat_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    progress = models.CharField(max_length=200, blank=True)
    error = models.TextField(blank=True)  # for people

    class Meta:
        abstract = True
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"{self.job}: {self.get_state_display()}"

    @property
    def is_over(self) -> bool:
        return self.state not in (self.State.QUEUED, self.State.RUNNING)


class PlanRun(Run):
    """One run of the planner for a job."""

    job = models.ForeignKey(Job, models.CASCADE, related_name="plan_runs")
    stop_requested = models.BooleanField(default=False)
    best_finish = models.DateTimeField(null=True, blank=True)
    plan = models.ForeignKey(
        Plan, models.SET_NULL, null=True, blank=True, related_name="runs"
    )

    class Meta(Run.Meta):
        constraints = (
            models.UniqueConstraint(
                fields=("job",), condition=Q(state="queued"), name="run_queued_once"
            ),
            models.UniqueConstraint(
                fields=("job",), condition=Q(state="running"), name="run_running_once"
            ),
        )


class ForwardRun(Run):
    """What would bring one surface forward: asked, worked out, and the answer kept.

    ``helps`` holds what brings it forward, the most first, as it is found; ``tried`` of
    ``ways`` have been planned. The surface is named by its key: an answer outlives it.
    """

    job = models.ForeignKey(Job, models.CASCADE, related_name="forward_runs")
    surface_key = KeyField()
    outcome = models.CharField(max_length=8, choices=Plan.Outcome, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)  # without any of them
    ways = models.PositiveSmallIntegerField(default=0)
    tried = models.PositiveSmallIntegerField(default=0)
    helps = models.JSONField(default=list, blank=True)

    class Meta(Run.Meta):
        constraints = (
            models.UniqueConstraint(
                fields=("job", "surface_key"),
                condition=Q(state__in=("queued", "running")),
                name="forward_asked_once",
            ),
            models.UniqueConstraint(
                fields=("job",),
                condition=Q(state="running"),
                name="forward_runs_once",
            ),
        )
        indexes = (
            models.Index(fields=("job", "surface_key"), name="forward_by_surface"),
        )


class TurnRun(Run):
    """What new air does to the issued plan, and what buys it back: asked and kept.

    ``question`` is what was supposed ("if a hand is off"), empty for the air as it is;
    ``judged`` what slips and what is better, ``helps`` what buys it back, most first.
    """

    job = models.ForeignKey(Job, models.CASCADE, related_name="turn_runs")
    plan_number = models.PositiveIntegerField()
    question = models.JSONField(default=dict, blank=True)
    judged = models.JSONField(default=dict, blank=True)
    outcome = models.CharField(max_length=8, choices=Plan.Outcome, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)  # with none of them
    ways = models.PositiveSmallIntegerField(default=0)
    tried = models.PositiveSmallIntegerField(default=0)
    helps = models.JSONField(default=list, blank=True)

    class Meta(Run.Meta):
        constraints = (
            models.UniqueConstraint(
                fields=("job",), condition=Q(state="queued"), name="turn_queued_once"
            ),
            models.UniqueConstraint(
                fields=("job",), condition=Q(state="running"), name="turn_runs_once"
            ),
        )


class WorkerBeat(models.Model):
    """When a planning worker last showed that it is alive; one row."""

    name = models.CharField(max_length=40, unique=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name
