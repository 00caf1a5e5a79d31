"""A hand as a person says it: name, skills, hours and days away."""

from collections.abc import Mapping, Sequence
from datetime import datetime, time, timedelta, tzinfo
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import slugify

from jobs.forms import PlainField
from jobs.models import Hand
from jobs.set_up_forms import DayField, SetUpForm
from jobs.templatetags.plan_format import say_day
from scheduling.errors import shown

LONGEST_AWAY = 366  # days; Assumed: whoever is away longer is not on the job


class HandForm(SetUpForm):
    """A hand. ``skills`` are those that the job's recipes ask for and its hands have.

    ``first`` are the values that a new one begins with.
    """

    def __init__(
        self,
        *args: Any,
        hand: Hand | None,
        skills: Sequence[str],
        first: Mapping[str, Any],
        zone: tzinfo,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.hand, self.zone = hand, zone
        self.away: list[Any] = list(hand.away) if hand else []
        self.fields["name"] = PlainField(
            label="Name", max_length=200, initial=first.get("name")
        )
        if skills:
            self.fields["skills"] = forms.MultipleChoiceField(
                label="Can do",
                required=False,
                widget=forms.CheckboxSelectMultiple,
                initial=first.get("skills"),
                choices=[(skill, say_skill(skill)) for skill in skills],
            )
            self.fields["skills"].error_messages["invalid_choice"] = (
                f"%(value)s: give some of {', '.join(skills)}."
            )
        self.fields["other_skill"] = PlainField(
            label="and also", required=False, max_length=40,
            help_text="A skill of your own recipes.",
        )  # fmt: skip
        self.add_hours(
            "hours", "Own hours", hand.hours if hand else None, with_breaks=True,
            hint="Nothing stated: the site's.",
        )  # fmt: skip
        if self.away:
            self.fields["away"] = forms.MultipleChoiceField(
                label="Away",
                required=False,
                widget=forms.CheckboxSelectMultiple,
                initial=[str(number) for number in range(len(self.away))],
                choices=[
                    (str(number), say_span(pair, zone))
                    for number, pair in enumerate(self.away)
                ],
            )
        self.fields["away_from"] = DayField(label="Away from", required=False)
        self.fields["away_to"] = DayField(label="to", required=False)

    def clean_other_skill(self) -> str:
        """As the job format writes a skill."""
        text = self.cleaned_data["other_skill"]
        skill = slugify(text).replace("_", "-").strip("-")
        if text and not skill:
            raise ValidationError(f"{shown(text)}: give a word in a-z.")
        return skill

    def clean(self) -> dict[str, Any]:
        """The days away that stay, with those of the new span."""
        cleaned = super().clean()
        stay = cleaned.get("away") or ()
        away = [pair for n, pair in enumerate(self.away) if str(n) in stay]
        first, last = cleaned.get("away_from"), cleaned.get("away_to")
        wrong = self.errors.keys() & {"away_from", "away_to"}
        if last and not first and not wrong:
            self.add_error("away_from", "Empty: give the first day away.")
        elif first and not wrong:
            last = last or first
            if not 0 <= (last - first).days <= LONGEST_AWAY:
                allowed = f"{first} or up to {LONGEST_AWAY} days later"
                self.add_error("away_to", f"{last} cannot be: give {allowed}.")
            else:
                ends = (first, last + timedelta(days=1))
                away.append([self._midnight(day).isoformat() for day in ends])
        cleaned["away"] = away
        return cleaned

    def _midnight(self, day: Any) -> datetime:
        return datetime.combine(day, time(), tzinfo=self.zone)

    @property
    def columns(self) -> dict[str, Any]:
        """The hand's columns; hours None where the site's count."""
        cleaned = self.cleaned_data
        skills = list(cleaned.get("skills") or ())
        if cleaned["other_skill"] and cleaned["other_skill"] not in skills:
            skills.append(cleaned["other_skill"])
        if self.hand is not None:  # those that stay keep their order
            before = [skill for skill in self.hand.skills if skill in skills]
            skills = before + [skill for skill in skills if skill not in before]
        return {
            "name": cleaned["name"],
            "skills": skills,
            "hours": cleaned["hours"] or None,
            "away": cleaned["away"],
        }


def say_skill(skill: str) -> str:
    """ "Gilding on glass"."""
    return skill.replace("-", " ").capitalize()


def say_span(pair: Sequence[str], zone: tzinfo) -> str:
    """ "Wed 14 Oct to Fri 16 Oct"; with times where it is not of whole days."""
    start, end = (datetime.fromisoformat(text).astimezone(zone) for text in pair)
    if start.time() == end.time() == time():
        first, last = say_day(start, zone), say_day(end - timedelta(hours=2), zone)
        return first if first == last else f"{first} to {last}"
    last = "" if start.date() == end.date() else f"{say_day(end, zone)} "
    return f"{say_day(start, zone)} {start:%H:%M} to {last}{end:%H:%M}"
