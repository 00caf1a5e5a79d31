"""What a lead types about orders: the allowance for waste, spread, tins, lead time."""

import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from jobs.forms import MeasureField, NumberField, PlainField, ReadersForm
from jobs.measures import LIQUID, SPREAD, NotAMeasure
from scheduling.mixing import SPREADS_M2_L, USUAL_WASTE
from scheduling.problem import MOST_LEAD_DAYS, MOST_TINS, TIN_L

_BETWEEN = re.compile(r";|\n|,\s+|\band\b")


class WasteForm(forms.Form):
    """The allowance of a job; empty for the usual one."""

    waste = NumberField(
        low=0,
        high=100,
        unit="%",
        required=False,
        label="Allowance for waste",
        help_text="In percent, for trays, brushes and the last of the tin. "
        f"Left empty it is {USUAL_WASTE * 100:.0f} %.",
    )


class TinsField(PlainField):
    """A few sizes with commas between: "1 l, 2.5 l"; comes out in litres."""

    def __init__(self, *, units: str, stored: Sequence[float] = (), **options: Any):
        self.units, self.stored = units, tuple(stored)
        options.setdefault("max_length", 120)
        options["initial"] = self.typed(self.stored)
        super().__init__(**options)

    def typed(self, sizes_l: Sequence[float]) -> str:
        """Sizes as a person would type them here."""
        unit = LIQUID.unit(self.units)
        return ", ".join(f"{LIQUID.typed(size, self.units)} {unit}" for size in sizes_l)

    def clean(self, value: Any) -> tuple[float, ...]:
        """The sizes in litres, the smallest first; none where none is given."""
        text = super().clean(value)
        if text and text == self.typed(self.stored):
            return self.stored
        sizes = set()
        allowed = LIQUID.between(*TIN_L, self.units)
        for part in filter(None, (part.strip() for part in _BETWEEN.split(text))):
            try:
                size = LIQUID.read(part, self.units)
            except NotAMeasure:
                message = f"{part} is no size of a tin: give {allowed} each."
                raise ValidationError(message) from None
            if not TIN_L[0] <= size <= TIN_L[1]:
                raise ValidationError(f"{part} cannot be: give {allowed} each.")
            sizes.add(size)
        if len(sizes) > MOST_TINS:
            message = f"{len(sizes)} sizes are too many: give at most {MOST_TINS}."
            raise ValidationError(message)
        return tuple(sorted(sizes))


class OrderingForm(ReadersForm):
    """Spread, tins and lead time of one material."""

    def __init__(
        self,
        *args: Any,
        units: str,
        spread_m2_per_l: float | None,
        tins_l: Sequence[float],
        lead_days: int | None,
        **options: Any,
    ) -> None:
        super().__init__(*args, units=units, **options)
        low, high = SPREADS_M2_L
        self.fields["spread"] = MeasureField(
            quantity=SPREAD, units=self.units, low=low, high=high,
            stored=spread_m2_per_l, required=False, label="Spread",
            help_text=f"In {SPREAD.unit(self.units)}, one coat, as the tin says.",
        )  # fmt: skip
        self.fields["tins"] = TinsField(
            units=self.units, stored=tins_l, required=False, label="Sold in",
            help_text="Sizes with commas between, such as "
            + ("1 qt, 1 gal." if self.units == "us" else "1 l, 2.5 l, 5 l."),
        )  # fmt: skip
        self.fields["lead_days"] = NumberField(
            low=0, high=MOST_LEAD_DAYS, unit="days", required=False,
            initial=lead_days, label="Lead time",
            help_text="Days from ordering it to having it on site, all days counted.",
        )  # fmt: skip

    def clean_lead_days(self) -> int | None:
        """Whole days."""
        days = self.cleaned_data["lead_days"]
        if days is not None and days != int(days):
            allowed = f"give whole days from 0 to {MOST_LEAD_DAYS}"
            raise ValidationError(f"{days:g} days cannot be: {allowed}.")
        return None if days is None else int(days)
