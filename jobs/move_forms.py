"""What a lead may ask of one stint: another moment, other hands, a time to keep out of.

Messages name the value and what is allowed; what was typed is shown again.
"""

from datetime import datetime, tzinfo
from typing import Any

from django import forms

from jobs.calendar_words import label
from jobs.forms import MomentField
from jobs.templatetags.plan_format import say_clock, say_day
from scheduling.problem import Job, Step


class HandsField(forms.MultipleChoiceField):
    """Some of a job's hands, as lines to touch."""

    def __init__(self, job: Job, **options: Any) -> None:
        names = [(hand.id, label(hand)) for hand in job.hands]
        super().__init__(choices=names, widget=forms.CheckboxSelectMultiple, **options)
        allowed = ", ".join(name for _, name in names) or "none: the job has no hands"
        self.error_messages = {
            "required": f"Nobody chosen: give one or more of {allowed}.",
            "invalid_choice": f"%(value)s is not here: give one or more of {allowed}.",
            "invalid_list": f"Give one or more of {allowed}.",
        }


class MoveForm(forms.Form):
    """When a stint begins and who does it."""

    def __init__(
        self, *args: Any, job: Job, step: Step, now: datetime, **options: Any
    ) -> None:
        super().__init__(*args, auto_id="move_%s", **options)
        self.step, self.now, self.zone = step, now, job.site.tz
        self.fields["start"] = MomentField(label="Begins", zone=self.zone, now=now)
        self.fields["hands"] = HandsField(
            job, label="Hands", help_text=f"The step takes {_counts(step)}."
        )

    def clean_start(self) -> datetime:
        """No stint in the past."""
        return _to_come(self.cleaned_data["start"], self.now, self.zone)

    def clean_hands(self) -> list[str]:
        """As many as the step takes."""
        hands: list[str] = self.cleaned_data["hands"]
        if len(hands) not in self.step.hands.counts:
            raise forms.ValidationError(
                f"{len(hands)} chosen: the step takes {_counts(self.step)}."
            )
        return hands


class BanTimeForm(forms.Form):
    """From when to when a stint is not to be done; begins as its whole day."""

    def __init__(self, *args: Any, zone: tzinfo, now: datetime, **options: Any) -> None:
        super().__init__(*args, auto_id="time_%s", **options)
        self.now, self.zone = now, zone
        self.fields["start"] = MomentField(label="Not from", zone=zone, now=now)
        self.fields["end"] = MomentField(label="To", zone=zone, now=now)

    def clean_end(self) -> datetime:
        """An end to come, after the start."""
        end = _to_come(self.cleaned_data["end"], self.now, self.zone)
        start = self.cleaned_data.get("start")
        if start is not None and end <= start:
            raise forms.ValidationError(
                f"{_said(end, self.zone)} is not after the start: give a time after "
                f"{_said(start, self.zone)}."
            )
        return end


class BanHandsForm(forms.Form):
    """Who is not to do a stint."""

    def __init__(self, *args: Any, job: Job, **options: Any) -> None:
        super().__init__(*args, auto_id="hands_%s", **options)
        self.fields["hands"] = HandsField(job, label="Not by")


def _counts(step: Step) -> str:
    counts = step.hands.counts
    least, most = counts[0], counts[-1]
    return f"{least}" if least == most else f"{least} to {most}"


def _to_come(moment: datetime, now: datetime, zone: tzinfo) -> datetime:
    if moment < now:
        raise forms.ValidationError(
            f"{_said(moment, zone)} is past: give a time from {_said(now, zone)} on."
        )
    return moment


def _said(moment: datetime, zone: tzinfo) -> str:
    return f"{say_day(moment, zone)} {say_clock(moment, zone)}"
