"""Quantities in words and as a table for a spreadsheet.

Pure: the engine's orders in, lines and cells out, in the reader's units.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from jobs.calendar_words import label
from jobs.measures import AREA, LIQUID, SPREAD, US, say
from jobs.site_words import SiteWords
from jobs.templatetags.plan_format import say_area
from scheduling.quantities import Bought, Order
from scheduling.tins import Tins

# A cell that begins so is taken for a formula by spreadsheets (OWASP, CSV injection).
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


@dataclass(frozen=True, slots=True, kw_only=True)
class BoughtLine:
    """One thing to buy: its name where it is a part, how much, and in which tins."""

    name: str
    amount: str
    tins: str
    over: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One material: by when, how much, for what; what is missing is said."""

    key: str
    name: str
    by: str
    late: bool
    use: str
    what_for: str
    bought: tuple[BoughtLine, ...]
    missing: tuple[str, ...]
    unknown: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderWords(SiteWords):
    """A job's orders as told to one reader."""

    units: str
    waste: float

    @property
    def today(self) -> date:
        """The day on site."""
        return self.now.astimezone(self.zone).date()

    def line(self, order: Order) -> OrderLine:
        """One material as the page has it."""
        material = order.material
        coats = "one coat" if order.coats == 1 else f"{order.coats} coats"
        walls = "one surface" if order.surfaces == 1 else f"{order.surfaces} surfaces"
        late = order.order_by is not None and order.order_by < self.today
        missing = []
        if not order.bought:
            missing.append("Its spread is not given, so no amount is reckoned.")
        if order.first_use is None:
            missing.append("No issued plan puts it on, so there is no day.")
        unknown = [
            name
            for name, known in (
                ("lead time", material.lead_days is not None),
                ("tins", bool(material.tins_l)),
            )
            if not known
        ]
        return OrderLine(
            key=material.id,
            name=label(material),
            by=self._by_day(order),
            late=late,
            use=""
            if order.first_use is None
            else f"First used {self.at(order.first_use)}.",
            what_for=f"{coats[:1].upper()}{coats[1:]} on {walls}, together "
            f"{say_area(order.area_m2, self.units)}.",
            bought=tuple(self._bought(order, part) for part in order.bought),
            missing=tuple(missing),
            unknown=f"Not given: {' and '.join(unknown)}." if unknown else "",
        )

    def _by_day(self, order: Order) -> str:
        if order.order_by is None:
            return "No day yet"
        if order.material.lead_days is None:
            return f"On site by {_day(order.order_by)}"
        return f"Order by {_day(order.order_by)}"

    def _bought(self, order: Order, part: Bought) -> BoughtLine:
        over_l = part.bought_l - part.litres
        return BoughtLine(
            name=part.name if order.material.parts else "",
            amount=say(LIQUID, part.litres, self.units),
            tins=self._tins(part.tins),
            over=say(LIQUID, over_l, self.units) if over_l > 1e-6 else "",
        )

    def _tins(self, tins: Iterable[Tins]) -> str:
        """ "2 of 5 l and 1 of 1 l"."""
        said = [f"{tin.count} of {self._size(tin.size_l)}" for tin in tins]
        return " and ".join(filter(None, (", ".join(said[:-1]), *said[-1:])))

    def _size(self, size_l: float) -> str:
        if self.units == US:
            return say(LIQUID, size_l, US)
        return f"{LIQUID.typed(size_l, self.units)} l"

    # -- the table -----------------------------------------------------------------

    def table(self, orders: Sequence[Order]) -> str:
        """The orders as CSV, a row for each thing to buy; dates are ISO 8601."""
        liquid, area = LIQUID.unit(self.units), AREA.unit(self.units)
        head = (
            "order by", "first used", "lead time (days)", "material", "part",
            f"area of all coats ({area})", "coats",
            f"spread ({SPREAD.unit(self.units)})", "waste (%)",
            f"needed ({liquid})", "tins", f"bought ({liquid})",
        )  # fmt: skip
        text = io.StringIO()
        written = csv.writer(text)
        written.writerow(head)
        for order in orders:
            for part in order.bought or (None,):
                cells = (str(cell) for cell in self._cells(order, part))
                written.writerow([safe_cell(cell) for cell in cells])
        return text.getvalue()

    def _cells(self, order: Order, part: Bought | None) -> Iterable[object]:
        material, use = order.material, order.first_use
        spread = material.spread_m2_per_l
        yield order.order_by or ""
        yield use.astimezone(self.zone).date() if use is not None else ""
        yield "" if material.lead_days is None else material.lead_days
        yield label(material)
        yield part.name if part is not None and material.parts else ""
        yield f"{AREA.shown(order.area_m2, self.units):.2f}"
        yield order.coats
        yield "" if spread is None else f"{SPREAD.shown(spread, self.units):.2f}"
        yield f"{self.waste * 100:g}"
        if part is None:
            yield from ("", "", "")
            return
        yield f"{LIQUID.shown(part.litres, self.units):.3f}"
        yield self._tins(part.tins)
        yield f"{LIQUID.shown(part.bought_l, self.units):.3f}"


def safe_cell(text: str) -> str:
    """Text that no spreadsheet takes for a formula; an apostrophe keeps it text."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA) else text


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"
