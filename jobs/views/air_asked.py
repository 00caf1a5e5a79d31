"""An air that a reader may change on a page, filled with the one that is there."""

from dataclasses import dataclass

from django.http import HttpRequest

from jobs.forms import AirForm, TemperatureField
from scheduling.problem import Air


@dataclass(frozen=True, slots=True, kw_only=True)
class AirAsked:
    """The form to show, and the air typed in it; ``air`` None for the one that is."""

    form: AirForm
    air: Air | None = None
    surface_c: float | None = None
    status: int = 200


def air_asked(
    request: HttpRequest, units: str, *, here: Air, surface_c: float | None
) -> AirAsked:
    """What the request asks for; status 422 where it cannot be read."""
    if any(name in request.GET for name in ("temperature", "humidity", "surface")):
        form = AirForm(request.GET, units=units)
        if not form.is_valid():
            return AirAsked(form=form, status=422)
        typed = form.cleaned_data
        air = Air(temperature_c=typed["temperature"], humidity_pct=typed["humidity"])
        wall_c = typed["surface"]
        return AirAsked(
            form=form,
            air=air,
            surface_c=air.temperature_c if wall_c is None else wall_c,
        )
    form = AirForm(units=units)
    shown = {
        "temperature": here.temperature_c,
        "humidity": here.humidity_pct,
        "surface": surface_c,
    }
    for name, value in shown.items():
        field = form.fields[name]
        if value is not None:
            typed_back = (
                field.typed(value) if isinstance(field, TemperatureField) else None
            )
            form.initial[name] = typed_back or f"{value:.0f}"
    return AirAsked(form=form)
