"""Sizes, degrees and amounts in metric and US units: read, said, and typed again.

Records and job files are SI. A person types in either system, whatever they read in: a
unit that stands with the number counts, and a bare number is in the reader's own. What
is read back from what was shown is shown the same again.

Factors are exact: the foot of 0.3048 m and the US liquid gallon of 231 cubic inches
(NIST SP 811, B.8; NIST Handbook 44, appendix C).
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite

from scheduling.psychrometrics import celsius_from_fahrenheit, fahrenheit_from_celsius

US, METRIC = "us", "metric"

M_PER_FT = 0.3048
M2_PER_FT2 = M_PER_FT**2
M3_PER_FT3 = M_PER_FT**3
L_PER_GAL = 231 * 0.254**3  # cubic inches in cubic decimetres: 3.785411784
IN_PER_FT = 12

# Phones type primes, raised digits, fractions and a longer minus as one sign.
_PLAIN = str.maketrans(
    {"′": "'", "’": "'", "″": '"', "”": '"', "“": '"', "−": "-",
     "\u00a0": " ", "\u202f": " ", "½": " 1/2", "¼": " 1/4", "¾": " 3/4"}
)  # fmt: skip
# ASCII digits only: a number in another script is a slip of the keyboard here.
_DECIMAL = r"(?:[0-9]{1,9}(?:[.,][0-9]{0,9})?|[.,][0-9]{1,9})"
_FRACTION = r"(?:[0-9]{1,6}[ -]+)?[0-9]{1,3} ?/ ?[0-9]{1,3}"
_TERM = re.compile(rf"\s*({_FRACTION}|{_DECIMAL})\s*([^0-9.,]*?)\s*(?=[0-9.,]|$)")
_POWER = re.compile(r"(ft|m)([23²³])(?![0-9])", re.IGNORECASE)
_UNSURE = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")


class NotAMeasure(ValueError):
    """What was typed is no such quantity; a text, if any, says what it might mean."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A kind of measure: its units by the SI value of one, and how it is shown.

    ``units`` are by their spelling without blanks and full stops; ``metric`` and ``us``
    are those in which a bare number is read and a single one shown. ``digits``: the
    decimals that a form shows.
    """

    words: str
    units: Mapping[str, float]
    metric: str
    us: str
    digits: int
    example: str
    signed: bool = False  # a scale or a difference: may lie below 0

    def unit(self, units: str) -> str:
        """The reader's unit, as it stands beside a number."""
        return self.us if units == US else self.metric

    def shown(self, value: float, units: str) -> float:
        """The number in the reader's own unit."""
        if self is TEMPERATURE:
            return fahrenheit_from_celsius(value) if units == US else value
        return value / self.units[_key(self.unit(units))]

    # -- what a person types ---------------------------------------------------------

    def knows(self, unit: str) -> bool:
        """Whether that is a unit of it, however it is spelled: "sq ft", "ft²"."""
        return _key(unit) in self.units

    def si_of(self, number: float, unit: str) -> float:
        """The SI value of a number in a unit that it knows."""
        if self is TEMPERATURE and _key(unit) == "f":
            return celsius_from_fahrenheit(number)
        return number * self.units[_key(unit)]

    def read(self, text: str, units: str) -> float:
        """The SI value; NotAMeasure where it is none or not certain."""
        plain = text.translate(_PLAIN).strip()
        sign = 1.0
        if plain[:1] in ("+", "-"):
            sign = -1.0 if plain[0] == "-" else 1.0
            plain = plain[1:].lstrip()
            if sign < 0 and not self.signed:
                raise NotAMeasure
        terms = self._terms(plain, units)
        factors = [factor for _, _, factor in terms]
        whole = all(number == int(number) for number, _, _ in terms[:-1])
        falling = all(
            a > b and number * b < a * (1 - 1e-12)
            for a, b, (number, _, _) in zip(
                factors[:-1], factors[1:], terms[1:], strict=True
            )
        )
        if not terms or not whole or not falling or (self.signed and len(terms) > 1):
            raise NotAMeasure
        if len(terms) == 1:
            number, unit, factor = terms[0]
            value = sign * number * factor
            if self is TEMPERATURE and unit == "f":
                value = celsius_from_fahrenheit(sign * number)
        else:  # in the smallest unit first, where whole numbers add up exactly
            value = sign * sum(n * round(f / factors[-1]) for n, _, f in terms)
            value *= factors[-1]
        if not isfinite(value):
            raise NotAMeasure
        return value

    def _terms(self, plain: str, units: str) -> list[tuple[float, str, float]]:
        plain = re.sub(r"(?<=[A-Za-z])\.", "", plain)
        if self is not LENGTH:  # there, 8ft2 is 8 ft 2 in
            plain = _POWER.sub(_power_first, plain)
        terms: list[tuple[float, str, float]] = []
        place = 0
        while place < len(plain):
            found = _TERM.match(plain, place)
            if found is None or len(terms) > 3:
                raise NotAMeasure
            unit = _key(found[2])
            if not unit and terms and terms[-1][1] in ("ft", "'"):
                unit = "in"  # 8'6, 8 ft 6
            elif not unit and not terms and found.end() == len(plain):
                unit = _key(self.unit(units))  # a bare number stands alone
            if unit not in self.units:
                raise NotAMeasure
            terms.append((number_of(found[1]), unit, self.units[unit]))
            place = found.end()
        return terms

    def typed(self, value: float, units: str) -> str:
        """A value as a form shows it to be typed over, without its unit where usual."""
        if self is LENGTH and units == US:
            return feet_and_inches(value, 2)
        number = f"{self.shown(value, units):.{self.digits}f}"
        if not self.signed and "." in number:
            number = number.rstrip("0").rstrip(".")
        return "0" if number == "-0" else number

    def between(self, low: float, high: float, units: str) -> str:
        """What a field allows: "a length from 0.1 to 30 m, such as 2.6 m or ..."."""
        ends = f"{self.typed(low, units)} to {self.typed(high, units)}"
        if self is LENGTH and units == US:
            return f"{self.words} from {ends}, {self.example}"
        return f"{self.words} from {ends} {self.unit(units)}, {self.example}"


def _power_first(found: re.Match[str]) -> str:
    """Digits belong to numbers: ``ft2`` is read as ``sq ft``."""
    return f"{'sq' if found[2] in '2²' else 'cu'} {found[1]}"


def number_of(text: str) -> float:
    """A number in ASCII digits with a decimal point or comma, or a fraction.

    NotAMeasure for 1,200, which is twelve hundred to one reader and 1.2 to another.
    """
    if "/" in text:
        found = re.fullmatch(r"(?:([0-9]+)[ -]+)?([0-9]+) ?/ ?([0-9]+)", text)
        if found is None or int(found[2]) >= int(found[3]):
            raise NotAMeasure
        return float(found[1] or 0) + int(found[2]) / int(found[3])
    if _UNSURE.fullmatch(text):
        whole, _, rest = text.partition(",")
        raise NotAMeasure(f"{whole}.{rest} or {whole}{rest}: the comma could mean both")
    if re.fullmatch(rf"[+-]?{_DECIMAL}", text) is None:
        raise NotAMeasure
    return float(text.replace(",", "."))


def _key(unit: str) -> str:
    """A unit's spelling without what people vary: blanks, stops, capitals, plurals."""
    plain = unit.translate(_PLAIN).replace("²", "2").replace("³", "3").lower()
    key = re.sub(r"[\s.]|-|\band\b", "", plain)
    key = key.replace("square", "sq").replace("cubic", "cu").replace("°", "")
    for long, short in _LONG.items():
        key = re.sub(long, short, key)
    return key


_LONG = {
    r"feet|foot": "ft",
    r"inch(es)?": "in",
    r"met(er|re)s?": "m",
    r"lit(er|re)s?": "l",
    r"gallons?|gals": "gal",
    r"quarts?|qts": "qt",
    r"pints?|pts": "pt",
    r"fluid|fl(?=oz|ounce)": "fl",
    r"ounces?": "oz",
    r"sqft|sf$": "ft2",
    r"sqm": "m2",
    r"cuft|cf$": "ft3",
    r"cum": "m3",
    r"fpm": "ft/min",
    r"/d(ay)?$|perday$|aday$": "/day",
}

LENGTH = Quantity(
    words="a length",
    units={"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": M_PER_FT, "'": M_PER_FT,
           "in": M_PER_FT / IN_PER_FT, '"': M_PER_FT / IN_PER_FT},
    metric="m", us="ft", digits=3,
    example="such as 2.6 m, 8 ft 6 in, 8'6\" or 8.5 ft",
)  # fmt: skip
AREA = Quantity(
    words="an area",
    units={"m2": 1.0, "ft2": M2_PER_FT2},
    metric="m²", us="ft²", digits=2,
    example="such as 19.7 m2 or 212 sq ft",
)  # fmt: skip
VOLUME = Quantity(
    words="a volume",
    units={"m3": 1.0, "ft3": M3_PER_FT3},
    metric="m³", us="ft³", digits=2,
    example="such as 60 m3 or 2100 cu ft",
)  # fmt: skip
LIQUID = Quantity(
    words="an amount",
    units={"l": 1.0, "ml": 0.001, "gal": L_PER_GAL, "qt": L_PER_GAL / 4,
           "pt": L_PER_GAL / 8, "floz": L_PER_GAL / 128},
    metric="l", us="gal", digits=3,
    example="such as 2.5 l, 1 gal 1 qt or 3 pt",
)  # fmt: skip
SPREAD = Quantity(
    words="a spread",
    units={"m2/l": 1.0, "ft2/gal": M2_PER_FT2 / L_PER_GAL},
    metric="m²/l", us="ft²/gal", digits=2,
    example="such as 10 m2/l or 400 sq ft/gal",
)  # fmt: skip
PACE = Quantity(
    words="a pace",
    units={"min/m2": 1.0, "min/ft2": 1 / M2_PER_FT2},
    metric="min/m²", us="min/ft²", digits=3,
    example="such as 4 min/m2 or 0.4 min/sq ft",
)  # fmt: skip
WATER_A_DAY = Quantity(
    words="water a day",
    units={"l/day": 1.0, "pt/day": L_PER_GAL / 8, "gal/day": L_PER_GAL},
    metric="l/day", us="pt/day", digits=2,
    example="such as 20 l/day or 42 pints/day",
)  # fmt: skip
AIR_SPEED = Quantity(
    words="an air speed",
    units={"m/s": 1.0, "ft/min": M_PER_FT / 60, "ft/s": M_PER_FT,
           "mph": 5280 * M_PER_FT / 3600},
    metric="m/s", us="ft/min", digits=3,
    example="such as 0.1 m/s or 20 ft/min",
)  # fmt: skip
TEMPERATURE = Quantity(
    words="a temperature",
    units={"c": 1.0, "f": 1 / 1.8},
    metric="°C", us="°F", digits=1, signed=True,
    example="such as 19 C or 66 F",
)  # fmt: skip
DEGREES_APART = Quantity(
    words="a difference",
    units={"k": 1.0, "c": 1.0, "f": 1 / 1.8},
    metric="°C", us="°F", digits=1, signed=True,
    example="such as 3 K or 5.4 F",
)  # fmt: skip


def feet_and_inches(length_m: float, digits: int = 0) -> str:
    """ "8 ft 6 in", "8 ft", "7.25 in"; inches never round up to twelve."""
    inches = round(abs(length_m) / M_PER_FT * IN_PER_FT, digits)
    feet, rest = divmod(inches, IN_PER_FT)
    rest = round(rest, digits)
    said = f"{rest:.{digits}f}"
    if "." in said:
        said = said.rstrip("0").rstrip(".")
    sign = "-" if length_m < 0 and inches else ""
    if not feet and rest:
        return f"{sign}{said} in"
    return f"{sign}{feet:.0f} ft {said} in" if rest else f"{sign}{feet:.0f} ft"


# -- what a person reads ---------------------------------------------------------------


def say(quantity: Quantity, value: float, units: str, digits: int | None = None) -> str:
    """A value with its unit, as finely as anybody reads it on a site."""
    if units == US and quantity is LENGTH:
        return feet_and_inches(value, 0 if abs(value) >= M_PER_FT else 1)
    if units == US and quantity is LIQUID:
        return _us_liquid(value)
    number = quantity.shown(value, units)
    if digits is None:
        digits = _usual_digits(quantity, number, units)
    return f"{number:.{digits}f} {quantity.unit(units)}"


def _usual_digits(quantity: Quantity, number: float, units: str) -> int:
    if quantity is AIR_SPEED:
        return 0 if units == US else 1
    if quantity is LIQUID:
        return 0 if number >= 10 else 1 if number >= 1 else 2
    if quantity is AREA and units == US:
        return 0
    fine = quantity in (TEMPERATURE, DEGREES_APART, LENGTH, AREA)
    return 1 if fine or number < 10 else 0


def _us_liquid(litres: float) -> str:
    """In the largest measure of which there is one: "1.3 gal", "9.1 fl oz"."""
    for unit in ("gal", "qt", "pt"):
        number = litres / LIQUID.units[unit]
        if round(number, 1) >= 1:
            return f"{number:.1f} {unit}" if number < 10 else f"{number:.0f} {unit}"
    return f"{litres / LIQUID.units['floz']:.1f} fl oz"


# Figures in a sentence of the engine. A blank stands between number and unit there.
_FIGURE = re.compile(
    r"(?<![\w.,])(-?[0-9]+(?:\.[0-9]+)?) (K|°?C|m²/l|m2/l|m²|m2|m³|m3|m/s|m|l)"
    r"(?![\w/²³'’])"
)
_OF_UNIT = {
    "K": DEGREES_APART, "C": TEMPERATURE, "°C": TEMPERATURE, "m": LENGTH, "l": LIQUID,
    "m2": AREA, "m²": AREA, "m3": VOLUME, "m³": VOLUME, "m/s": AIR_SPEED,
    "m2/l": SPREAD, "m²/l": SPREAD,
}  # fmt: skip


def say_in(text: str, units: str, names: Iterable[str] = ()) -> str:
    """A sentence with its figures in the reader's units.

    ``names`` are what people call their rooms, walls and gates: a "Flat 3 C" among them
    stays what it is. A metric reader sees degrees with their sign, the rest unchanged.
    """
    own = sorted({name for name in names if _FIGURE.search(name)}, key=len)
    guard = "|".join(re.escape(name) for name in reversed(own))
    pattern = re.compile(f"({guard})|{_FIGURE.pattern}") if own else None

    def told(number: str, unit: str) -> str:
        quantity = _OF_UNIT[unit]
        digits = min(len(number.partition(".")[2]), 1)
        if quantity in (TEMPERATURE, DEGREES_APART):
            return say(quantity, float(number), units, digits)
        if units != US:
            return f"{number} {unit}"
        return say(quantity, float(number), units)

    if pattern is None:
        return _FIGURE.sub(lambda found: told(found[1], found[2]), text)
    return pattern.sub(
        lambda found: found[1] if found[1] is not None else told(found[2], found[3]),
        text,
    )
