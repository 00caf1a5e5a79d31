"""What is bound to a day: gates, other trades' days, and dates that are wished.

Moments are typed by the site's clock and come out with its offset.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, tzinfo
from typing import Any

from django import forms

from jobs.forms import MomentField, PlainField, choose
from jobs.models import DateWish, Job, Surface
from jobs.set_up_forms import KeptNumberField, SetUpForm
from jobs.week_words import PROMISED, REACHED
from scheduling.problem import AIRBORNE

# How far a coat can be asked to be, in the order in which it gets there.
_STAGES = ("touch", "recoat", "through", "hard", "cured")
MUST, WISHED = "must", "wished"


class CalendarForm(SetUpForm):
    """A form with moments by the site's clock."""

    def __init__(self, *args: Any, zone: tzinfo, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.zone, self.now = zone, now
        self.stored: dict[str, datetime] = {}

    def add_moment(
        self, name: str, label: str, stored: datetime | str | None, **options: Any
    ) -> None:
        """A field for a moment; left as it is shown it stays to the second."""
        if isinstance(stored, str):
            stored = datetime.fromisoformat(stored)
        if stored is not None:
            self.stored[name] = stored
        self.fields[name] = MomentField(
            label=label, zone=self.zone, now=self.now, initial=stored, **options
        )

    def moment(self, name: str) -> datetime | None:
        """What was given, or what is stored where that was left."""
        given, stored = self.cleaned_data.get(name), self.stored.get(name)
        if given and stored and given == stored.replace(second=0, microsecond=0):
            return stored
        return given

    def written(self, name: str) -> str | None:
        """The moment in the words of the job format."""
        value = self.moment(name)
        return value.astimezone(self.zone).isoformat() if value else None


class GateForm(CalendarForm):
    """A gate: its name, from when or until when, and which surfaces it opens."""

    def __init__(
        self,
        *args: Any,
        gate: Mapping[str, Any],
        surfaces: Sequence[Surface],
        chosen: Sequence[str],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.surfaces = {surface.key: surface for surface in surfaces}
        self.fields["name"] = PlainField(
            label="What must have happened?", max_length=200,
            initial=gate.get("name"), help_text="Scaffold up, sample signed.",
        )  # fmt: skip
        self.add_moment(
            "not_before", "Not before", gate.get("not_before"), required=False
        )
        self.add_moment("not_after", "Not after", gate.get("not_after"), required=False)
        self.fields["surfaces"] = forms.MultipleChoiceField(
            label="On which surfaces",
            widget=forms.CheckboxSelectMultiple,
            initial=list(chosen),
            choices=[(key, row.label) for key, row in self.surfaces.items()],
        )
        self.fields["surfaces"].error_messages = {
            "required": "Nothing chosen: give one surface or more.",
            "invalid_choice": "%(value)s is not here: give surfaces of this job.",
        }

    def clean(self) -> dict[str, Any]:
        """One of the two moments at least."""
        cleaned = super().clean()
        ends = ("not_before", "not_after")
        if not any(cleaned.get(name) or name in self.errors for name in ends):
            self.add_error("not_before", "Empty: give one of the two.")
        return cleaned

    @property
    def gate(self) -> dict[str, Any]:
        """The gate in the words of the job format."""
        ends = {name: self.written(name) for name in ("not_before", "not_after")}
        given = {name: moment for name, moment in ends.items() if moment}
        return {"name": self.cleaned_data["name"], **given}


class TradeForm(CalendarForm):
    """Another trade that has a room to itself for a while."""

    def __init__(self, *args: Any, trade: Mapping[str, Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["name"] = PlainField(
            label="Who?", max_length=200, initial=trade.get("name"),
            help_text="The floor layer, the electrician.",
        )  # fmt: skip
        self.add_moment("from", "From", trade.get("from"))
        self.add_moment("to", "To", trade.get("to"))
        self.fields["makes"] = forms.MultipleChoiceField(
            label="It makes",
            required=False,
            widget=forms.CheckboxSelectMultiple,
            initial=list(trade.get("makes", ())),
            choices=[(what, what.capitalize()) for what in AIRBORNE],
        )
        allowed = f"%(value)s: give some of {', '.join(AIRBORNE)}."
        self.fields["makes"].error_messages["invalid_choice"] = allowed

    @property
    def trade(self) -> dict[str, Any]:
        """The trade's days in the words of the job format."""
        made = {"name": self.cleaned_data["name"], "from": self.written("from")}
        made["to"] = self.written("to")
        makes = self.cleaned_data["makes"]
        return made | ({"makes": makes} if makes else {})


class DateForm(CalendarForm):
    """A date: of what, by when, how far it must be, and whether it must."""

    def __init__(
        self, *args: Any, job: Job, wish: DateWish | None, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        rooms = list(job.rooms.all())
        surfaces = list(job.surfaces.select_related("room"))
        self.targets: dict[str, dict[str, Any]] = {"job": {}}
        names = [("job", "The whole job")]
        for kind, rows in (("room", rooms), ("surface", surfaces)):
            for row in rows:
                self.targets[f"{kind}-{row.key}"] = {kind: row}
                names.append((f"{kind}-{row.key}", row.label))
        self.fields["of"] = forms.ChoiceField(label="Of what?", initial=_target(wish))
        choose(self.fields["of"], names)
        self.add_moment("by", "By", wish.by if wish else None)
        reached = (wish.stage or wish.promise) if wish else "touch"
        self.fields["reached"] = forms.ChoiceField(label="It is", initial=reached)
        asked = dict.fromkeys([*_STAGES, *PROMISED, reached])
        choose(self.fields["reached"], [(name, say_reached(name)) for name in asked])
        self.fields["must"] = forms.ChoiceField(
            label="How firm?", widget=forms.RadioSelect,
            initial=MUST if wish and wish.must else WISHED,
        )  # fmt: skip
        firm = [(WISHED, "If it can be"), (MUST, "It must be kept")]
        choose(self.fields["must"], firm)
        self.fields["weight"] = KeptNumberField(
            label="How much it counts against other wishes", low=0.01, high=1000,
            unit="times", stored=wish.weight if wish else 1.0,
        )  # fmt: skip

    @property
    def columns(self) -> dict[str, Any]:
        """The wish's columns."""
        cleaned = self.cleaned_data
        reached = cleaned["reached"]
        promised = reached in DateWish.Promise.values
        columns = {"room": None, "surface": None, **self.targets[cleaned["of"]]}
        return columns | {
            "by": self.moment("by"),
            "must": cleaned["must"] == MUST,
            "stage": "" if promised else reached,
            "promise": reached if promised else "",
            "weight": cleaned["weight"],
        }


def say_reached(name: str) -> str:
    """A stage or a promise as it stands in a sentence: "dry to touch"."""
    return PROMISED.get(name) or REACHED.get(name, name)


def _target(wish: DateWish | None) -> str:
    if wish is None or not (wish.room_id or wish.surface_id):
        return "job"
    if wish.surface_id:
        return f"surface-{wish.surface.key}"
    return f"room-{wish.room.key}"
