"""``manage.py clocks``: a label's clocks in one steady air. Needs no database."""

import json
from argparse import ArgumentParser
from typing import Any, cast

from django.core.management.base import BaseCommand

from jobs import typed_units
from jobs.management.file_command import FileCommand, add_units, in_units, units_of
from jobs.measures import DEGREES_APART, METRIC, TEMPERATURE, US, say
from scheduling.drying import clocks_answer
from scheduling.errors import BadInput, Fault, bad
from scheduling.job_file import label_faults
from scheduling.problem import (
    FAMILIES,
    THICKEST_COAT,
    THINNEST_COAT,
    Air,
    Family,
    Label,
)
from scheduling.room_air import STILL_AIR_M_S

USUAL_AIR = "23C/50%"  # ASTM D3924, at which most labels speak
STRONGEST_M_S = 20.0  # Assumed: a gale; the answer says where the laws end
_SIGNED = ("--air", "--label-air", "--surface", "--moving-air", "--coat")


class Command(FileCommand, BaseCommand):
    """Answers how long a coat stays open, and when the next may follow, in an air."""

    help = "Clocks of a label in steady air: early, likely and safe."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Everything is text here: ``typed_units`` reads it and says what is wrong."""
        parser.add_argument("--family", help=", ".join(FAMILIES))
        parser.add_argument("--label", help="open=20min,recoat=2-4h,hard=48h")
        parser.add_argument("--label-air", default=USUAL_AIR, help="23C/50%%")
        parser.add_argument("--air", help="19C/80%%; with =, as --air=-5C/80%%")
        parser.add_argument("--surface", help="18C; the air's where not given")
        parser.add_argument("--moving-air", default=f"{STILL_AIR_M_S}", help="in m/s")
        parser.add_argument("--coat", default="1.0", help="2.0 is twice as thick")
        parser.add_argument("--json", action="store_true", help="unrounded, SI")
        add_units(parser)

    def run_from_argv(self, argv: list[str]) -> None:
        """Lets a value below zero follow its option after a space too."""
        super().run_from_argv(_joined(argv))

    def run(self, **options: Any) -> int:
        """Prints the answer."""
        usual = US if str(options["air"]).upper().count("F") else METRIC
        units = units_of(options["units"], usual)  # as the air was typed, unless told
        answer = _answer(options)
        if options["json"]:
            self.stdout.write(json.dumps(answer, allow_nan=False))
        else:
            self.print_lines(_in_words(answer, units))
        return 0


def _joined(argv: list[str]) -> list[str]:
    joined: list[str] = []
    for part in argv:
        if joined and joined[-1] in _SIGNED and part[:1] == "-" and part[1:2].isdigit():
            joined[-1] = f"{joined[-1]}={part}"
        else:
            joined.append(part)
    return joined


def _answer(options: dict[str, Any]) -> dict[str, Any]:
    def given(name: str) -> str:
        if options[name] is None:
            raise bad(f"--{name}", None, "must be given")
        return str(options[name])

    def family() -> str:
        if given("family") not in FAMILIES:
            raise bad("--family", options["family"], f"one of {', '.join(FAMILIES)}")
        return given("family")

    def surface_c() -> float | None:
        if options["surface"] is None:
            return None
        return typed_units.temperature_c("--surface", str(options["surface"]))

    values = typed_units.gathered(
        {
            "family": family,
            "labels": lambda: typed_units.labels("--label", given("label")),
            "label_air": lambda: typed_units.air(
                "--label-air", str(options["label_air"])
            ),
            "air": lambda: typed_units.air("--air", given("air")),
            "surface": surface_c,
            "moving_air": lambda: typed_units.air_speed_m_s(
                "--moving-air", str(options["moving_air"]), STRONGEST_M_S
            ),
            "coat": lambda: typed_units.number(
                "--coat", str(options["coat"]), THINNEST_COAT, THICKEST_COAT
            ),
        }
    )
    faults = tuple(label_faults(cast(dict[str, Label], values["labels"]), "--label"))
    if faults:
        raise BadInput(faults)
    try:
        return _clocks(values)
    except BadInput as error:  # the engine knows keys, not options
        raise BadInput(
            Fault(fault.path.replace("label_air", "--label-air"), fault.value,
                  fault.allowed)
            for fault in error.faults
        ) from None  # fmt: skip


def _clocks(values: dict[str, Any]) -> dict[str, Any]:
    return clocks_answer(
        family=cast(Family, values["family"]),
        labels=cast(dict[str, Label], values["labels"]),
        label_air=cast(Air, values["label_air"]),
        air=cast(Air, values["air"]),
        surface_c=cast(float | None, values["surface"]),
        moving_air_m_s=cast(float, values["moving_air"]),
        coat=cast(float, values["coat"]),
    )


def _in_words(answer: dict[str, Any], units: str) -> list[str]:
    air, margin = answer["air"], answer["margin_c"]

    def degrees(celsius: float) -> str:
        return say(TEMPERATURE, celsius, units)

    point = "frost point" if (air["dew_point_c"] or 0.0) < 0 else "dew point"
    surface = f"surface {degrees(answer['surface_c'])}"
    lines = [f"Air {degrees(air['temperature_c'])}, {air['humidity_pct']:.0f} %"]
    if margin is None:
        lines[0] += f"; {surface}; bone dry, no dew point."
    else:
        above = f"{margin:.1f} K" if units == METRIC else say(DEGREES_APART, margin, US)
        lines[0] += f", {point} {degrees(air['dew_point_c'])}; {surface}, "
        lines[0] += f"{above} above it."
    start = "A coat may start." if answer["may_start"] else "Start no coat in this air."
    lines.append(start)
    lines += [
        f"  {caution['code']}: {in_units(caution['text'], units)} ({caution['source']})"
        for caution in answer["cautions"]
    ]
    said = typed_units.minutes_as_said
    rows = [("stage", "label", "early", "likely", "safe", "plan with")]
    for stage, clock in answer["clocks"].items():
        low, high = clock["label_min"]
        label = said(low) if low == high else f"{said(low)} to {said(high)}"
        ends = (clock[key] for key in ("early_min", "likely_min", "safe_min"))
        rows.append((stage, label, *map(said, ends), said(clock["plan_min"])))
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines.append("")
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        lines.append("  ".join(cells).rstrip())
    return lines
