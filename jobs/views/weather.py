"""A job's outdoor air: whose word it is; a newer one fetched, read, typed, taken."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import path
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from jobs import forecasts
from jobs.models import Forecast
from jobs.outdoor_words import days_of, hours_of, outdoor_words
from jobs.queries import forecast_or_404, forecasts_of
from jobs.templatetags.plan_format import say_moment
from jobs.translation import job_value
from jobs.views.guard import Visit, put_beside, readable, visit_of
from jobs.weather.hours import HOUR, Row, hourly_means, weather_hours
from jobs.weather.outcomes import Got, NotFetched
from jobs.weather.sources import SOURCES, offered
from jobs.weather.typed_days import rows_of_days
from jobs.weather_forms import DaysForm, LoggerForm, WeatherPlaceForm
from scheduling.errors import BadInput

TYPED_CAUTION = (
    "Made of the ends you typed: the lowest at six, the highest at three, and the "
    "water in the air as the humidity by day says it. Days without one take the lowest "
    "temperature for the dew point, which is too damp in dry country."
)


@require_safe
@readable
def weather_page(request: HttpRequest, job: str) -> HttpResponse:
    """What the job plans from, and what lies ready to be planned from instead."""
    visit = visit_of(request, job)
    value = job_value(visit.job)
    kept = list(forecasts_of(visit.job))
    service = SOURCES.get(visit.job.weather_source)
    ends = max((hour.at + HOUR for hour in value.outdoors), default=visit.now)
    ahead = [hour for hour in value.outdoors if hour.at >= visit.now]
    return visit.page(
        "jobs/weather.html",
        place="weather",
        place_name="Outdoor air",
        outdoors=outdoor_words(value, visit.now, visit.zone),
        days=days_of(ahead, visit.zone)[:7],
        kept=[_kept(visit, row, ends) for row in kept if row.taken_at is None],
        service=service if service in offered() else None,
        site=visit.job,
        good_until=next(
            (
                row.expires_at
                for row in kept
                if service and row.source == service.key and row.expires_at
                and row.expires_at > visit.now
            ),
            None,
        ),
        any_service=bool(offered()),
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
def place(request: HttpRequest, job: str) -> HttpResponse:
    """Choose the service, and say where the site is."""
    visit = visit_of(request, job, lead=True)
    shared = {"job": visit.job, "units": visit.units}
    if request.method != "POST":
        return _form(visit, WeatherPlaceForm(**shared), "place")
    form = WeatherPlaceForm(request.POST, **shared)
    if form.is_valid():
        names = ("source", "latitude", "longitude", "altitude_m")
        given = {name: form.cleaned_data[name] for name in names}
        try:
            forecasts.choose_weather(job=visit.job, now=visit.now, **given)
        except ValidationError as error:
            put_beside(form, error)
        else:
            messages.success(request, "Kept. Fetch the forecast when you like.")
            return redirect("weather", job=visit.job.key)
    return _form(visit, form, "place", status=422)


@require_POST
def fetch_now(request: HttpRequest, job: str) -> HttpResponse:
    """Ask the service; what it says is shown before anything is planned from it."""
    visit = visit_of(request, job, lead=True)
    outcome = forecasts.fetch_forecast(job=visit.job, by=visit.user, now=visit.now)
    if isinstance(outcome, Got):
        messages.success(request, "A new forecast is here. Look at it, then plan.")
    elif isinstance(outcome, NotFetched):
        text = outcome.text
        if outcome.retry_at is not None:
            text += f" Ask again {say_moment(outcome.retry_at, visit.zone, visit.now)}."
        messages.warning(request, text)
    else:
        messages.info(request, "The service has nothing newer than what is kept.")
    return redirect("weather", job=visit.job.key)


@require_http_methods(["GET", "HEAD", "POST"])
def logger_file(request: HttpRequest, job: str) -> HttpResponse:
    """Bring in a logger's hours from outdoors."""
    visit = visit_of(request, job, lead=True)
    shared = {"zone": visit.zone, "now": visit.now, "units": visit.units}
    if request.method != "POST":
        return _form(visit, LoggerForm(**shared), "file")
    form = LoggerForm(request.POST, request.FILES, **shared)
    if form.is_valid() and form.read is not None:
        name = f"Logger file {form.file_name}".strip()
        try:
            rows = hourly_means(form.read.rows)
            lately = [row for row in rows if row.at >= visit.now - forecasts.PAST_KEPT]
            _keep(visit, "file", name, lately, form.read.notes)
        except BadInput as error:
            form.add_error("text", str(error.faults[0]))
        else:
            return redirect("weather", job=visit.job.key)
    form.keep_typed()
    return _form(visit, form, "file", status=422)


@require_http_methods(["GET", "HEAD", "POST"])
def typed_days(request: HttpRequest, job: str) -> HttpResponse:
    """Type the lowest and the highest temperature of the next days."""
    visit = visit_of(request, job, lead=True)
    today = visit.now.astimezone(visit.zone).date()
    shared = {"today": today, "units": visit.units}
    if request.method != "POST":
        return _form(visit, DaysForm(**shared), "days")
    form = DaysForm(request.POST, **shared)
    if form.is_valid():
        rows = rows_of_days(form.typed, visit.zone)
        _keep(visit, "typed", "Typed by hand", rows, (TYPED_CAUTION,))
        return redirect("weather", job=visit.job.key)
    return _form(visit, form, "days", status=422)


@require_POST
def take(request: HttpRequest, job: str, forecast: int) -> HttpResponse:
    """Plan from what was looked at, from the next plan on."""
    visit = visit_of(request, job, lead=True)
    row = forecast_or_404(visit.job, forecast)
    try:
        forecasts.take_forecast(job=visit.job, forecast=row, now=visit.now)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("weather", job=visit.job.key)
    messages.success(
        request, f"The job’s outdoor air is now: {row.name}. Plan again to plan in it."
    )
    return redirect("week", job=visit.job.key)


@require_POST
def drop(request: HttpRequest, job: str, forecast: int) -> HttpResponse:
    """Throw away what was looked at."""
    visit = visit_of(request, job, lead=True)
    row = forecast_or_404(visit.job, forecast)
    forecasts.drop_forecast(forecast=row)
    messages.info(request, f"Thrown away: {row.name}. The job’s air is as it was.")
    return redirect("weather", job=visit.job.key)


def _keep(
    visit: Visit, source: str, name: str, rows: list[Row], cautions: Iterable[str]
) -> Forecast:
    hours = weather_hours(
        rows,
        source=name,
        made_at=visit.now,
        fetched_at=visit.now,
        altitude_m=visit.job.altitude_m,
        over_gaps=True,
        path="hours of the last 30 days and to come",
    )
    return forecasts.keep_hours(
        job=visit.job,
        source=source,
        name=name,
        hours=hours,
        by=visit.user,
        now=visit.now,
        cautions=cautions,
    )


def _kept(visit: Visit, row: Forecast, known_until: datetime) -> dict[str, Any]:
    source = SOURCES.get(row.source)
    ends = forecasts.ends_at(row)
    return {
        "row": row,
        "source": source,
        "age_min": (visit.now - row.made_at).total_seconds() / 60,
        "first": forecasts.starts_at(row),
        "ends": ends,
        "ended": ends <= visit.now,
        "gives_up": visit.now < ends < known_until,
        "days": days_of(hours_of(row.hours), visit.zone)[:12],
    }


def _form(visit: Visit, form: Any, which: str, status: int = 200) -> HttpResponse:
    names = {"place": "Weather service", "file": "Logger file", "days": "Days by hand"}
    return visit.page(
        f"jobs/weather_{which}.html",
        status,
        place="weather",
        place_name=names[which],
        form=form,
        any_service=bool(offered()),
    )


_HERE = "jobs/<slug:job>/weather/"
urlpatterns = [
    path(_HERE, weather_page, name="weather"),
    path(f"{_HERE}place/", place, name="weather-place"),
    path(f"{_HERE}fetch/", fetch_now, name="fetch-weather"),
    path(f"{_HERE}file/", logger_file, name="weather-file"),
    path(f"{_HERE}days/", typed_days, name="weather-days"),
    path(f"{_HERE}<int:forecast>/take/", take, name="take-forecast"),
    path(f"{_HERE}<int:forecast>/drop/", drop, name="drop-forecast"),
]
