"""Times, waits, degrees and sizes as people on a site say them.

The tags take the job's zone, the moment of the page and the reader's units from the
context (``zone``, ``now``, ``units``); the functions take them as arguments.
"""

from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe

from jobs.measures import AREA, DEGREES_APART, LENGTH, TEMPERATURE, say, say_in

register = template.Library()

# The days for which a day's name alone is enough: together fewer than a week, so that
# a Monday past is never taken for the next one.
_BEHIND, _AHEAD = timedelta(days=2), timedelta(days=4)
NEVER = "not in this air"


def say_clock(moment: datetime | None, zone: tzinfo) -> str:
    """The time of day on site, "08:18"."""
    return NEVER if moment is None else f"{moment.astimezone(zone):%H:%M}"


def say_day(moment: datetime, zone: tzinfo) -> str:
    """The day on site, "Wed 14 Oct"."""
    local = moment.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b}"


def say_moment(moment: datetime | None, zone: tzinfo, now: datetime) -> str:
    """Day and time on site: "Wed 08:18"; with the date when it is days away."""
    if moment is None:
        return NEVER
    local = moment.astimezone(zone)
    if -_BEHIND <= local.date() - now.astimezone(zone).date() <= _AHEAD:
        return f"{local:%a %H:%M}"
    if local.year != now.astimezone(zone).year:
        return f"{say_day(moment, zone)} {local:%Y %H:%M}"
    return f"{say_day(moment, zone)} {local:%H:%M}"


def say_minutes(minutes: float | None) -> str:
    """A length of time: "35 min", "2 h 10 min", "3 days 4 h"; None is never."""
    if minutes is None:
        return NEVER
    if minutes < 1:
        return "under a minute"
    if minutes < 90:
        return f"{minutes:.0f} min"
    if minutes < 12 * 60:  # to ten minutes: nobody waits more exactly
        whole = round(minutes / 10) * 10
        hours, rest = divmod(whole, 60)
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    if minutes < 48 * 60:
        return f"{minutes / 60:.0f} h"
    days, hours = divmod(round(minutes / 60), 24)
    if days < 7 and hours:
        return f"{days} days {hours} h"
    return f"{minutes / 1440:.0f} days"


def say_age(minutes: float) -> str:
    """How old something is: "just now", "40 min old"."""
    return "just now" if minutes < 2 else f"{say_minutes(minutes)} old"


def say_temperature(temperature_c: float | None, units: str) -> str:
    """ "20.1 °C" or "68.2 °F"."""
    return (
        "unknown" if temperature_c is None else say(TEMPERATURE, temperature_c, units)
    )


def say_degrees_apart(difference_c: float | None, units: str) -> str:
    """A difference: "3.0 °C" is "5.4 °F", with no 32 in it."""
    return (
        "unknown" if difference_c is None else say(DEGREES_APART, difference_c, units)
    )


def say_area(area_m2: float, units: str) -> str:
    """ "19.7 m²" or "212 ft²"."""
    return say(AREA, area_m2, units)


def say_length(length_m: float, units: str) -> str:
    """ "0.8 m" or "2 ft 7 in"."""
    return say(LENGTH, length_m, units)


def say_label(label: float | tuple[float, float] | list[float]) -> str:
    """A label's own time: "2 h to 4 h"."""
    low, high = label if isinstance(label, list | tuple) else (label, label)
    return (
        say_minutes(low)
        if low == high
        else f"{say_minutes(low)} to {say_minutes(high)}"
    )


def say_place(room: str, surface: str) -> str:
    """A surface with its room, named once: "Lounge, north wall"."""
    return surface if _begins_with(surface, room) else f"{room}, {surface}"


def say_within(room: str, surface: str) -> str:
    """A surface under the heading of its room: "North wall"."""
    if not _begins_with(surface, room):
        return surface
    rest = surface[len(room) :].lstrip(" ,:-")
    return f"{rest[:1].upper()}{rest[1:]}" or surface


def _begins_with(surface: str, room: str) -> bool:
    return surface.casefold().startswith(room.casefold())


def _zone(context: Any) -> tzinfo:
    return context.get("zone") or UTC


@register.simple_tag(takes_context=True)
def moment(context: Any, value: datetime | None) -> str:
    """Day and time on site."""
    return say_moment(value, _zone(context), context["now"])


@register.simple_tag(takes_context=True)
def clock(context: Any, value: datetime | None) -> str:
    """Time of day on site."""
    return say_clock(value, _zone(context))


@register.simple_tag(takes_context=True)
def day(context: Any, value: datetime) -> str:
    """Day on site."""
    return say_day(value, _zone(context))


@register.simple_tag(takes_context=True)
def temperature(context: Any, value: float | None) -> str:
    """Temperature in the reader's units."""
    return say_temperature(value, context.get("units", ""))


@register.simple_tag(takes_context=True)
def temperatures(context: Any, low: float, high: float) -> str:
    """ "7.0 to 13.0 °C" in the reader's units; one where both are told alike."""
    ends = [say_temperature(value, context["units"]) for value in (low, high)]
    unit = f" {TEMPERATURE.unit(context['units'])}"
    return ends[1] if ends[0] == ends[1] else " to ".join(ends).replace(unit, "", 1)


@register.simple_tag(takes_context=True)
def degrees_apart(context: Any, value: float | None) -> str:
    """Temperature difference in the reader's units."""
    return say_degrees_apart(value, context.get("units", ""))


@register.simple_tag(takes_context=True)
def area(context: Any, value: float) -> str:
    """Area in the reader's units."""
    return say_area(value, context.get("units", ""))


@register.simple_tag(takes_context=True)
def length(context: Any, value: float) -> str:
    """Length in the reader's units."""
    return say_length(value, context.get("units", ""))


@register.filter
def waits(value: float | None) -> str:
    """A length of time in minutes, in words."""
    return say_minutes(value)


@register.filter
def old(value: float) -> str:
    """An age in minutes, in words."""
    return say_age(value)


@register.simple_tag(takes_context=True)
def sentence(context: Any, value: str) -> str:
    """A sentence of the engine in the reader's units; ``names`` stay what they are."""
    return say_in(value, context.get("units", ""), context.get("names", ()))


@register.simple_tag(takes_context=True)
def job_moment(context: Any, value: datetime | None, zone: tzinfo) -> str:
    """Day and time on the site of one of several jobs."""
    return say_moment(value, zone, context["now"])


@register.simple_tag
def place(room: str, surface: str) -> str:
    """A surface with its room, named once."""
    return say_place(room, surface)


@register.filter
def strong(value: str) -> SafeString:
    """Text whose parts between double stars are bold; everything in it is escaped."""
    parts = str(value).split("**")
    return format_html_join(
        "",
        "{}{}{}",
        (
            (mark_safe("<strong>"), part, mark_safe("</strong>"))
            if number % 2 and number < len(parts) - 1
            else ("", part, "")
            for number, part in enumerate(parts)
        ),
    )


@register.filter
def ago(value: float) -> str:
    """How long ago, in minutes, in words."""
    return "just now" if value < 2 else f"{say_minutes(value)} ago"
