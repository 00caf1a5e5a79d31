"""What the rows of a job have in common: a text id of their own and a place in line."""

from django.core.validators import RegexValidator
from django.db import models

from scheduling.shapes import ID_PATTERN

_ident = RegexValidator(ID_PATTERN, "Use 1 to 40 of a-z, 0-9 and -.")


class KeyField(models.CharField):
    """An id of the job format: 1 to 40 of a-z, 0-9 and -; blank where one may miss."""

    def __init__(self, *args, **options):
        options.setdefault("max_length", 40)
        options["validators"] = [_ident]
        super().__init__(*args, **options)

    def deconstruct(self):
        name, path, args, options = super().deconstruct()
        options.pop("validators", None)
        return name, path, args, options


class KeyedRow(models.Model):
    """A row that the job format names: ``key`` is its id there, and never changes."""

    key = KeyField()
    name = models.CharField(max_length=200, blank=True)
    position = models.PositiveIntegerField(default=0)  # its place in the exported list

    class Meta:
        abstract = True
        ordering = ("position", "pk")

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        """What people call it: its name, else its id."""
        return self.name or self.key


class ListedRow(models.Model):
    """A row without an id of its own, kept in the order of the job format's list."""

    position = models.PositiveIntegerField(default=0)

    class Meta:
        abstract = True
        ordering = ("position", "pk")


def within(field: str, low: float, high: float) -> models.Q:
    """The condition that a number, where there is one, lies from low to high."""
    return models.Q(**{f"{field}__gte": low, f"{field}__lte": high})


def keys_unique_in(owner: str, model: str) -> models.UniqueConstraint:
    """No two rows of one owner share a key."""
    return models.UniqueConstraint(
        fields=(owner, "key"),
        name=f"{model}_key_unique_in_{owner}",
        violation_error_message="This id is taken; use one that is used only once.",
    )
