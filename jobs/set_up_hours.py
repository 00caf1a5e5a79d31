"""Hours as a person taps and types them: days, from, to, breaks; a few rules a heading.

What comes out is the JSON that the job format has for hours. Whether an end is later
than its start, and a break inside, is the engine's to say.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import PlainField
from scheduling.errors import shown
from scheduling.problem import Hours

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
MOST_RULES = 21  # Assumed: three a day; more are a file's business
_CLOCK = re.compile(r"(\d{1,2})(?:[:.h ]?([0-5]\d))?", re.ASCII)
_IN_TURN = "in turn"
Rule = dict[str, Any]


class ClockField(PlainField):
    """A time of day: 8, 8:30, 830 or 08.30; comes out as "08:30"."""

    allowed = 'a time of day like "08:00", up to "24:00"'

    def __init__(self, **options: Any) -> None:
        attributes = {"inputmode": "numeric", "autocomplete": "off", "size": "5"}
        options.setdefault("widget", forms.TextInput(attrs=attributes))
        super().__init__(**options)

    def clean(self, value: Any) -> str:
        """The time in four digits; "" where nothing is needed or given."""
        text = super().clean(value)
        return clock_of(text) if text else ""


class BreaksField(PlainField):
    """Breaks with a comma between: "12:00-12:30, 15:00-15:15 in turn"."""

    def clean(self, value: Any) -> list[Any]:
        """Pairs of times, or objects where a break is taken in turn."""
        text = super().clean(value)
        return [_break_of(part) for part in text.split(",") if part.strip()]


class RuleForm(forms.Form):
    """One rule: on these days from then to then."""

    days = forms.MultipleChoiceField(
        label="Days",
        required=False,
        choices=[(day, day.capitalize()) for day in DAYS],
        widget=forms.CheckboxSelectMultiple,
    )
    start = ClockField(label="From", required=False)
    end = ClockField(label="To", required=False)
    breaks = BreaksField(
        label="Breaks",
        required=False,
        max_length=200,
        help_text='"12:00-12:30". Add "in turn" where the site stays open.',
    )

    def __init__(self, *args: Any, with_breaks: bool, **options: Any) -> None:
        super().__init__(*args, **options)
        allowed = f"%(value)s: give one of {', '.join(DAYS)}."
        self.fields["days"].error_messages["invalid_choice"] = allowed
        if not with_breaks:
            del self.fields["breaks"]

    def clean(self) -> dict[str, Any]:
        """All of a rule or nothing of it."""
        cleaned = super().clean() or {}
        given = {name for name in ("days", "start", "end") if cleaned.get(name)}
        if self.errors or not (given or cleaned.get("breaks")):
            return cleaned
        wanted = {"days": "one day or more", "start": "a time", "end": "a time"}
        for name, allowed in wanted.items():
            if name not in given:
                self.add_error(name, f"Empty: give {allowed}.")
        return cleaned

    @property
    def rule(self) -> Rule | None:
        """The rule in the job format; None where nothing was given."""
        cleaned = self.cleaned_data
        if not cleaned.get("days"):
            return None
        rule = {"days": days_of(cleaned["days"]), "from": cleaned["start"]}
        rule["to"] = cleaned["end"]
        return rule | ({"breaks": cleaned["breaks"]} if cleaned.get("breaks") else {})


class HoursList:
    """The rules under one heading, and a spare one to add another."""

    def __init__(
        self,
        name: str,
        label: str,
        *,
        data: Mapping[str, Any] | None,
        stored: Sequence[Rule] | None,
        with_breaks: bool = False,
        hint: str = "",
    ) -> None:
        self.name, self.label, self.hint = name, label, hint
        paused = any(
            isinstance(rule, dict) and rule.get("breaks") for rule in stored or ()
        )
        options = {"with_breaks": with_breaks or paused}
        if data is None:
            rules: list[Rule | None] = [*(stored or ()), None]
            self.forms = [
                RuleForm(initial=_typed(rule), prefix=f"{name}-{number}", **options)
                for number, rule in enumerate(rules)
            ]
        else:
            count = 0
            while count < MOST_RULES and f"{name}-{count}-start" in data:
                count += 1
            self.forms = [
                RuleForm(data, prefix=f"{name}-{number}", **options)
                for number in range(count)
            ]
        self.summary = say_rules(stored or ()) or "none stated"

    @property
    def is_open(self) -> bool:
        """Whether something in it is wrong, so that it must be seen."""
        return any(form.errors for form in self.forms if form.is_bound)

    @property
    def value(self) -> list[Rule] | None:
        """The rules in the job format; None where one is wrong."""
        rules = [form.rule if form.is_valid() else None for form in self.forms]
        if self.is_open:
            return None
        return [rule for rule in rules if rule is not None]

    @cached_property
    def _filled(self) -> list[RuleForm]:
        """The lines that make a rule each, in order."""
        return [form for form in self.forms if form.is_valid() and form.rule]

    def refuse(self, number: int, key: str, message: str) -> None:
        """Put what the engine says of the rule of that number beside its field."""
        field = {"from": "start", "to": "end"}.get(key, key)
        form = self._filled[number]
        form.add_error(field if field in form.fields else "days", message)


def clock_of(text: str) -> str:
    """ "830" as "08:30"; ValidationError where it is no time of day."""
    found = _CLOCK.fullmatch(text.strip())
    if found is not None:
        clock = f"{int(found[1]):02}:{found[2] or '00'}"
        if clock <= "24:00":
            return clock
    raise ValidationError(f"{shown(text)}: give {ClockField.allowed}.")


def days_of(chosen: Iterable[str]) -> str:
    """Days as the job format writes them: "mon-fri", "mon,wed-thu"."""
    numbers = sorted(DAYS.index(day) for day in set(chosen))
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ",".join(
        DAYS[run[0]] if len(run) == 1 else f"{DAYS[run[0]]}-{DAYS[run[-1]]}"
        for run in runs
    )


def say_rules(rules: Sequence[Any]) -> str:
    """ "Mon to Fri 08:00 to 16:30, break 12:00-12:30; Sat 09:00 to 12:00"."""
    said = []
    for rule in rules:
        typed = _typed(rule)
        days = days_of(typed["days"]).replace("-", " to ").replace(",", ", ")
        text = f"{days.title().replace(' To ', ' to ')} {typed['start']}"
        breaks = f", break {typed['breaks']}" if typed["breaks"] else ""
        said.append(f"{text} to {typed['end']}{breaks}")
    return "; ".join(said)


def _typed(rule: Any) -> dict[str, Any]:
    """A stored rule as a form shows it; a bare pair counts on every day."""
    if rule is None:
        return {}
    if isinstance(rule, list):
        rule = {"days": "mon-sun", "from": rule[0], "to": rule[1]}
    hours = Hours(days=rule["days"], start=rule["from"], end=rule["to"])
    breaks = []
    for pause in rule.get("breaks", ()):
        if isinstance(pause, dict):
            turn = f" {_IN_TURN}" if pause.get("relay") else ""
            breaks.append(f"{pause['from']}-{pause['to']}{turn}")
        else:
            breaks.append(f"{pause[0]}-{pause[1]}")
    return {
        "days": [DAYS[number] for number in sorted(hours.weekdays)],
        "start": hours.start,
        "end": hours.end,
        "breaks": ", ".join(breaks),
    }


def _break_of(text: str) -> Any:
    span, in_turn, rest = text.strip().partition(_IN_TURN)
    start, dash, end = span.strip().partition("-")
    if not dash or rest.strip():
        allowed = 'a break like "12:00-12:30" or "12:00-12:30 in turn"'
        raise ValidationError(f"{shown(text.strip())}: give {allowed}.")
    pair = [clock_of(start), clock_of(end)]
    return {"from": pair[0], "to": pair[1], "relay": True} if in_turn else pair
