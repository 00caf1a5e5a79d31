"""What a person types at a shell, with its unit, as numbers in SI: 66F, 2-4h, 23C/50%.

Each reader says in a BadInput which value is wrong and what is allowed.
"""

import re
from collections.abc import Callable

from jobs.measures import AIR_SPEED, METRIC, TEMPERATURE, NotAMeasure, number_of
from scheduling.errors import BadInput, Fault, bad
from scheduling.problem import PROMISES, STAGES, Air, Label

COLDEST_C, HOTTEST_C = -30.0, 60.0  # what a clock is answered for
LONGEST_MIN = 10 * 365 * 24 * 60.0  # Assumed: no label speaks of more than ten years
_MINUTES = {"min": 1.0, "h": 60.0, "d": 1440.0}

# ASCII only: a digit of another script, or a dotless i in "min", is a slip of the hand.
_TEMPERATURE = re.compile(r"([+-]?[0-9.,]+)\s*°?\s*([CF])", re.IGNORECASE)
_PERCENT = re.compile(r"([+-]?[0-9.,]+)\s*%")
_TIME = re.compile(r"([0-9]+\.?[0-9]*|\.[0-9]+)\s*(min|h|d)?", re.IGNORECASE | re.ASCII)

_TEMPERATURES = f"{COLDEST_C:g}C to {HOTTEST_C:g}C, or F, such as 19C or 66F"
_TIMES = "a time in min, h or d, or a range, such as 20min, 2-4h or 1d-36h"


def temperature_c(path: str, text: str) -> float:
    """``19C`` or ``66F`` in degrees Celsius."""
    if _TEMPERATURE.fullmatch(text.strip()) is None:
        raise bad(path, text, _TEMPERATURES)
    celsius = _read(path, text, _TEMPERATURES, lambda: TEMPERATURE.read(text, METRIC))
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise bad(path, text, _TEMPERATURES)
    return celsius


def air(path: str, text: str) -> Air:
    """``19C/80%`` as air."""
    degrees, slash, percent = text.partition("/")
    allowed = f"a temperature and humidity, such as 19C/80%; {_TEMPERATURES}; 0 to 100%"
    found = _PERCENT.fullmatch(percent.strip())
    if not slash or found is None:
        raise bad(path, text, allowed)
    written = found[1]
    humidity = _read(path, text, allowed, lambda: number_of(written))
    if not 0 <= humidity <= 100:
        raise bad(path, text, allowed)
    try:
        celsius = temperature_c(path, degrees)
    except BadInput:
        raise bad(path, text, allowed) from None
    return Air(temperature_c=celsius, humidity_pct=humidity)


def air_speed_m_s(path: str, text: str, most_m_s: float) -> float:
    """``0.5``, ``0.5m/s`` or ``100ft/min`` in metres a second, from 0."""
    allowed = f"a number from 0 to {most_m_s:g} m/s, or ft/min or mph"
    speed = _read(path, text, allowed, lambda: AIR_SPEED.read(text, METRIC))
    if not 0 <= speed <= most_m_s:
        raise bad(path, text, allowed)
    return speed


def _read(path: str, text: str, allowed: str, read: Callable[[], float]) -> float:
    try:
        return read()
    except NotAMeasure as why:
        raise bad(path, text, str(why) or allowed) from None


def label_min(path: str, text: str) -> Label:
    """``20min``, ``2-4h`` or ``30min-2h`` in minutes; a range's unit may stand once."""
    parts = [_TIME.fullmatch(part.strip()) for part in text.split("-")]
    last = parts[-1]
    if not 1 <= len(parts) <= 2 or last is None or last[2] is None:
        raise bad(path, text, _TIMES)
    minutes: list[float] = []
    for part in parts:
        if part is None:
            raise bad(path, text, _TIMES)
        minutes.append(float(part[1]) * _MINUTES[(part[2] or last[2]).lower()])
    if not all(0 < value <= LONGEST_MIN for value in minutes):
        raise bad(path, text, f"over 0 and up to ten years; {_TIMES}")
    if minutes[0] > minutes[-1]:
        raise bad(path, text, "the shorter time first, such as 2-4h")
    return minutes[0] if len(minutes) == 1 else (minutes[0], minutes[1])


def labels(path: str, text: str) -> dict[str, Label]:
    """``open=20min,recoat=2-4h`` as minutes by stage or promise, each at most once."""
    found: dict[str, Label] = {}
    faults: list[Fault] = []
    names = ", ".join((*STAGES, *PROMISES))
    for part in text.split(","):
        stage, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals or stage not in (*STAGES, *PROMISES):
            allowed = f"stage=time, the stage one of {names}"
            faults.append(Fault(path, part.strip(), allowed))
            continue
        if stage in found:
            faults.append(Fault(f"{path}.{stage}", value, "each stage once"))
            continue
        try:
            found[stage] = label_min(f"{path}.{stage}", value)
        except BadInput as error:
            faults.extend(error.faults)
    if faults:
        raise BadInput(faults)
    return found


def number(path: str, text: str, low: float, high: float) -> float:
    """A plain number from ``low`` to ``high``."""
    allowed = f"a number from {low:g} to {high:g}"
    value = _read(path, text, allowed, lambda: number_of(text.strip()))
    if "/" in text or not low <= value <= high:
        raise bad(path, text, allowed)
    return value


def gathered(readers: dict[str, Callable[[], object]]) -> dict[str, object]:
    """Every reader's value; one BadInput with the faults of all that failed."""
    values: dict[str, object] = {}
    faults: list[Fault] = []
    for name, read in readers.items():
        try:
            values[name] = read()
        except BadInput as error:
            faults.extend(error.faults)
    if faults:
        raise BadInput(faults)
    return values


def minutes_as_said(minutes: float | None) -> str:
    """Minutes as people say them: 27 min, 5 h 10 min, 4 d 3 h; never where None."""
    if minutes is None:
        return "never"
    if minutes < 10:
        return f"{minutes:.1f} min"
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    if whole < 48 * 60:
        hours, rest = divmod(whole, 60)
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    days, hours = divmod(round(minutes / 60), 24)
    return f"{days} d {hours} h" if hours else f"{days} d"
