"""A logger's file of one room's air."""

from typing import Any

from django import forms

from jobs.forms import choose
from jobs.models import Job, Room
from jobs.weather_forms import LoggerForm


class ReadingsFileForm(LoggerForm):
    """Which room the logger stood in, and its file."""

    room = forms.ChoiceField(label="Room")

    def __init__(self, *args: Any, job: Job, **options: Any) -> None:
        super().__init__(*args, **options)
        self.rooms: dict[str, Room] = {room.key: room for room in job.rooms.all()}
        choose(
            self.fields["room"], [(key, room.label) for key, room in self.rooms.items()]
        )
