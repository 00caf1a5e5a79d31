"""What a job is set up with, as people say it; units and zone from the context."""

from datetime import UTC
from typing import Any

from django import template

from jobs.measures import TEMPERATURE, VOLUME, say
from jobs.models import DateWish
from jobs.room_kinds import say_air
from jobs.set_up_forms_calendar import say_reached
from jobs.set_up_forms_hands import say_skill, say_span
from jobs.templatetags.plan_format import say_within

register = template.Library()


@register.simple_tag(takes_context=True)
def volume(context: Any, value: float) -> str:
    """Volume in the reader's units."""
    return say(VOLUME, value, context.get("units", ""))


@register.simple_tag(takes_context=True)
def room_air(context: Any, air: dict[str, Any]) -> str:
    """How a room's air is kept."""
    return say_air(air, context.get("units", ""))


@register.simple_tag(takes_context=True)
def usual_day(context: Any, typical_air: list[dict[str, Any]]) -> str:
    """The air outdoors through a usual day."""
    units = context.get("units", "")
    said = [
        f"from {entry['from']} {say(TEMPERATURE, entry['temperature_c'], units, 0)} "
        f"and {entry['humidity_pct']:g} %"
        for entry in typical_air
    ]
    return ", ".join(said) or "no usual day stated"


@register.simple_tag
def skills(keys: list[str]) -> str:
    """What a hand can do."""
    return ", ".join(say_skill(key) for key in keys).capitalize() or "helps others"


@register.simple_tag(takes_context=True)
def away(context: Any, spans: list[list[str]]) -> str:
    """When a hand is away."""
    zone = context.get("zone") or UTC
    return "; ".join(say_span(pair, zone) for pair in spans)


@register.simple_tag(takes_context=True)
def trade_span(context: Any, trade: dict[str, Any]) -> str:
    """When another trade has a room."""
    return say_span((trade["from"], trade["to"]), context.get("zone") or UTC)


@register.filter
def reached(wish: DateWish) -> str:
    """How far a surface must be by a date."""
    return say_reached(wish.stage or wish.promise)


@register.simple_tag
def within(room: str, surface: str) -> str:
    """A surface under the heading of its room."""
    return say_within(room, surface)
