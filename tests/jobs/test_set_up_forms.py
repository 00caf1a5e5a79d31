"""What may be typed when a job is set up: sizes, openings, stop lines, zones, days."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.http import QueryDict

from jobs.measures import METRIC, US
from jobs.models import Job
from jobs.set_up_forms import DayField, SiteForm, ZoneField, zone_names
from jobs.set_up_forms_hands import HandForm
from jobs.set_up_forms_rooms import SizeField
from jobs.set_up_forms_surfaces import OpeningsField, StopLinesField, SurfaceForm
from jobs.translation import job_value


@pytest.mark.parametrize(
    ("typed", "units", "volume_m3"),
    [
        ("5 x 4 x 2.5", METRIC, 50.0),
        ("5x4x2,5", METRIC, 50.0),
        ("5 × 4 by 2.5", METRIC, 50.0),
        ("60", METRIC, 60.0),
        ("60 m3", US, 60.0),
        ("10' x 10' x 10'", METRIC, 28.316846592),
        ("10 x 10 x 10", US, 28.316846592),
    ],
)
def test_a_room_is_sized_by_three_lengths_or_a_volume(
    typed: str, units: str, volume_m3: float
) -> None:
    size = SizeField(units=units).clean(typed)
    assert size.volume_m3 == pytest.approx(volume_m3)
    assert len(size.lengths_m) == (0 if "60" in typed else 3)


@pytest.mark.parametrize("typed", ["5 x 4", "5 x 4 x", "big", "0", "-5 x 4 x 2", "1e9"])
def test_a_size_that_is_none_is_told_with_what_is(typed: str) -> None:
    with pytest.raises(
        ValidationError, match=r"such as 5 x 4 x 2\.6|a volume|a length"
    ):
        SizeField(units=METRIC).clean(typed)


@pytest.mark.parametrize("units", [METRIC, US])
def test_a_size_left_as_it_is_shown_moves_no_bit(units: str) -> None:
    field = SizeField(units=units, stored=6.8 * 5.4 * 2.9)
    assert field.clean(field.initial).volume_m3 == 6.8 * 5.4 * 2.9


@pytest.mark.parametrize(
    ("typed", "area_m2"),
    [("", 0.0), ("2.5", 2.5), ("0.9 x 2.1 + 1.2 x 1.4", 3.57), ("2 + 1 x 1", 3.0)],
)
def test_openings_are_an_area_or_the_sides_of_each(typed: str, area_m2: float) -> None:
    assert OpeningsField(units=METRIC).clean(typed) == pytest.approx(area_m2)


def test_openings_and_stop_lines_that_are_none_are_told_with_what_is() -> None:
    with pytest.raises(ValidationError, match=r"such as 0\.9 x 2\.1"):
        OpeningsField(units=METRIC).clean("a door")
    with pytest.raises(ValidationError, match=r"such as 4 ft; 8 ft 6 in"):
        StopLinesField(units=US).clean("corner")


@pytest.mark.parametrize("units", [METRIC, US])
def test_stop_lines_left_as_they_are_shown_move_no_bit(units: str) -> None:
    field = StopLinesField(units=units, stored=(1 / 3, 8.2))
    assert field.clean(field.initial) == [1 / 3, 8.2]


def test_a_zone_is_found_by_its_city() -> None:
    assert ZoneField().clean("lisbon") == "Europe/Lisbon"
    assert ZoneField().clean("america/new york") == "America/New_York"
    with pytest.raises(ValidationError, match="a time zone like"):
        ZoneField().clean("Lyonesse")
    assert "Europe/Lisbon" in zone_names()
    assert not [name for name in zone_names() if name.startswith("Etc/")]


@pytest.mark.parametrize("typed", ["tomorrow", "1999-01-01", "2026-02-30"])
def test_a_day_that_is_none_is_told(typed: str) -> None:
    with pytest.raises(ValidationError, match=typed):
        DayField().clean(typed)


def surface_form(job: Job, **typed: Any) -> SurfaceForm:
    data = {"kind": "wall", "width_m": "6", "height_m": "2.5", "recipe": "recipe"}
    return SurfaceForm(
        data | typed, job=job, surface=None, first={}, units=typed.pop("units", METRIC)
    )


def test_panels_become_stop_lines_between_equal_parts(job: Job) -> None:
    form = surface_form(job, panels="3")
    assert form.is_valid()
    assert form.columns["stop_lines_m"] == [2.0, 4.0]


@pytest.mark.parametrize(
    ("before", "early", "kept"),
    [(None, "", None), (None, "on", 1), (1, "", None), (3, "", 3), (3, "on", 1)],
)
def test_among_the_first_is_the_priority_that_the_planner_heeds(
    job: Job, before: int | None, early: str, kept: int | None
) -> None:
    surface = job.surfaces.get()
    surface.priority = before
    data = {"kind": "wall", "width_m": "6", "height_m": "2.5", "recipe": "recipe"}
    form = SurfaceForm(
        data | {"early": early}, job=job, surface=surface, first={}, units=METRIC
    )
    assert form.is_valid()
    assert form.columns["priority"] == kept


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"openings_m2": "15"}, "openings_m2", "less than width times height, which"),
        ({"stop_lines_m": "2; 1"}, "stop_lines_m", "rising, between 0 and the width"),
        ({"stop_lines_m": "7"}, "stop_lines_m", "between 0 and the width of 6 m"),
        ({"stop_lines_m": "2", "panels": "3"}, "panels", "one of the two"),
        ({"kind": "roof"}, "kind", "one of Wall, Ceiling, Door"),
        ({"recipe": "none"}, "recipe", "is not here: give one of recipe"),
        ({"panels": "2.5"}, "panels", "a whole number from 2 to 60"),
    ],
)
def test_a_surface_that_cannot_be_is_refused_beside_its_field(
    job: Job, typed: dict[str, str], field: str, words: str
) -> None:
    form = surface_form(job, **typed)
    assert not form.is_valid()
    assert words in form.errors[field][0]


def test_openings_too_large_are_told_in_the_readers_units(job: Job) -> None:
    form = SurfaceForm(
        {"kind": "wall", "width_m": "10", "height_m": "8", "recipe": "recipe",
         "openings_m2": "90"},
        job=job, surface=None, first={}, units=US,
    )  # fmt: skip
    assert not form.is_valid()
    assert "90 ft² cannot be" in form.errors["openings_m2"][0]
    assert "which is 80 ft²" in form.errors["openings_m2"][0]


def test_closed_days_stay_unless_they_are_taken_off(job: Job) -> None:
    job.closed = ["2026-12-24", "2026-12-25"]
    data = {
        "title": "One", "zone": "Lisbon", "hours-0-days": ["mon"],
        "hours-0-start": "8", "hours-0-end": "16", "closed": ["2026-12-24"],
        "closed_from": "2026-12-30", "closed_to": "2027-01-01",
    }  # fmt: skip
    form = SiteForm(_posted(data), job=job, units=METRIC)
    assert form.is_valid(), form.errors
    days = ["2026-12-24", "2026-12-30", "2026-12-31", "2027-01-01"]
    assert form.columns["closed"] == days
    back = SiteForm(_posted(data | {"closed_to": "2026-12-01"}), job=job, units=METRIC)
    assert not back.is_valid()
    assert "give 2026-12-30 or up to" in back.errors["closed_to"][0]


def test_days_away_are_whole_days_of_the_sites_clock(job: Job) -> None:
    data = {"name": "Ann", "away_from": "2026-10-24", "away_to": "2026-10-25"}
    form = HandForm(
        data, hand=None, skills=["finisher"], first={}, zone=job.tz, units=METRIC
    )
    assert form.is_valid(), form.errors
    # Lisbon's clocks go back on the 25th.
    away = ["2026-10-24T00:00:00+01:00", "2026-10-26T00:00:00+00:00"]
    assert form.columns["away"] == [away]
    assert form.columns["hours"] is None


def test_a_skill_of_ones_own_is_written_as_the_format_wants_it(job: Job) -> None:
    data = {"name": "Ann", "skills": ["finisher"], "other_skill": "Gilding on glass"}
    form = HandForm(
        _posted(data), hand=None, skills=["finisher"], first={}, zone=job.tz,
        units=METRIC,
    )  # fmt: skip
    assert form.is_valid(), form.errors
    assert form.columns["skills"] == ["finisher", "gilding-on-glass"]
    assert job_value(job).hands[0].skills == ("finisher",)


def _posted(data: dict[str, Any]) -> Any:
    query = QueryDict(mutable=True)
    for name, value in data.items():
        query.setlist(name, value if isinstance(value, list) else [value])
    return query
