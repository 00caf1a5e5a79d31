"""A sheet as a person hands it in, and as it waits between preview and press."""

from typing import Any

from django import forms
from django.core import signing

from jobs.models import Job, User
from jobs.sheet_file import MOST_BYTES, MOST_ROWS, Table, table_of, text_of
from scheduling.errors import BadInput

PARTS = (("rooms", "Rooms"), ("surfaces", "Surfaces"))


class SheetForm(forms.Form):
    """A sheet, chosen or pasted. ``table`` and ``written`` are there when it is valid.

    Keeps the units it was shown in: a person may switch in another tab meanwhile.
    """

    part = forms.ChoiceField(
        label="What is in it", choices=PARTS, widget=forms.RadioSelect
    )
    file = forms.FileField(
        label="Sheet",
        required=False,
        help_text="A .csv file, as any spreadsheet program saves it: at most "
        f"{MOST_ROWS:,} rows and {MOST_BYTES // 1000} kB.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,text/csv"}),
    )
    text = forms.CharField(
        label="or its cells",
        required=False,
        strip=False,
        help_text="Copy them in the spreadsheet, headings too, and paste them here.",
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false"}),
    )
    units = forms.CharField(required=False, widget=forms.HiddenInput)

    table: Table
    written = ""

    def __init__(self, *args: Any, units: str, **options: Any) -> None:
        super().__init__(*args, **options)
        asked = self.data.get("units") if self.is_bound else None
        self.system = asked if asked in User.Units.values else units
        self.fields["units"].initial = self.system
        allowed = " or ".join(name for name, _ in PARTS)
        self.fields["part"].error_messages = {
            "required": f"Nothing chosen: give {allowed}.",
            "invalid_choice": f"%(value)s: give {allowed}.",
        }

    def clean(self) -> dict[str, Any]:
        """Reads whichever of the two was given."""
        cleaned = super().clean() or {}
        file, text = cleaned.get("file"), cleaned.get("text") or ""
        if "file" in self.errors or "text" in self.errors:
            return cleaned
        if file and text.strip():
            self.add_error("file", f"{file.name} and pasted cells: give only one.")
        elif not file and not text.strip():
            self.add_error("file", "Nothing chosen or pasted: give one of the two.")
        elif file:
            self._read("file", file.name, file.read(MOST_BYTES + 1))
        else:
            self._read("text", "the pasted cells", text)
        return cleaned

    def _read(self, field: str, name: str, given: bytes | str) -> None:
        try:
            self.written = text_of(given, name) if isinstance(given, bytes) else given
            self.table = table_of(self.written, name)
        except BadInput as error:
            for fault in error.faults:
                self.add_error(field, f"{fault.value}: give {fault.allowed}.")

    def keep_typed(self) -> None:
        """Show a refused file's cells, so that they can be mended in place."""
        if self.written:
            self.data = self.data.copy()
            self.data["text"] = self.written


def kept(job: Job, form: SheetForm) -> str:
    """A sheet that was read, signed: what comes back is what the preview showed."""
    value = {
        "part": form.cleaned_data["part"],
        "text": form.written,
        "units": form.system,
    }
    return signing.dumps(value, salt=_salt(job), compress=True)


def kept_sheet(job: Job, signed: str) -> dict[str, str] | None:
    """Part, text and units of a sheet that waited; None where it is not ours."""
    try:
        value: dict[str, str] = signing.loads(signed, salt=_salt(job))
    except signing.BadSignature:
        return None
    return value


def _salt(job: Job) -> str:
    return f"sheet for job {job.pk}"
