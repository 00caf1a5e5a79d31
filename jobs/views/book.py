"""The company's recipe book: its jobs' recipes, the starting set, bringing one in."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.models import Company, User
from jobs.queries import jobs_of, recipes_in_jobs
from jobs.recipe_changes import bring_recipe
from jobs.recipe_words import label_lines, step_words
from jobs.starting_set import MARKS, BookRecipe, starting_book
from jobs.views.guard import person_of
from scheduling.errors import BadInput, shown


class BringForm(forms.Form):
    """Which job a recipe of the book goes into."""

    job = forms.ChoiceField(label="Into which job")

    def __init__(self, *args: Any, company: Company, **options: Any) -> None:
        super().__init__(*args, **options)
        self.jobs = {job.key: job for job in jobs_of(company)}
        self.fields["job"].choices = [(key, str(job)) for key, job in self.jobs.items()]
        allowed = ", ".join(str(job) for job in list(self.jobs.values())[:12])
        allowed = allowed or "your jobs, of which there is none yet"
        self.fields["job"].error_messages = {
            "required": f"Nothing chosen: give one of {allowed}.",
            "invalid_choice": f"%(value)s is not here: give one of {allowed}.",
        }


@require_safe
def listing(request: HttpRequest) -> HttpResponse:
    """Every recipe that the company has: those in its jobs, then the starting set."""
    person = person_of(request)
    context = {
        "own": recipes_in_jobs(person.company),
        "book": [{"entry": entry, "steps": _names(entry)} for entry in starting_book()],
        "into": _asked_job(request, person),
    }
    return render(request, "recipes/book.html", context)


@require_safe
def entry_page(request: HttpRequest, recipe: str) -> HttpResponse:
    """A recipe of the starting set, each number with how it is known."""
    person = person_of(request)
    form = BringForm(
        company=person.company, initial={"job": _asked_job(request, person)}
    )
    return _entry(request, person, entry_or_404(recipe), form)


@require_POST
def bring(request: HttpRequest, recipe: str) -> HttpResponse:
    """Put a recipe of the book, with its materials, into a job."""
    person = person_of(request, lead=True)
    entry = entry_or_404(recipe)
    form = BringForm(request.POST, company=person.company)
    if form.is_valid():
        job = form.jobs[form.cleaned_data["job"]]
        try:
            brought = bring_recipe(job=job, entry=entry, now=timezone.now())
        except BadInput as error:
            for fault in error.faults[:12]:
                form.add_error(
                    "job", f"{fault.path}: {shown(fault.value)}: {fault.allowed}"
                )
        else:
            kept = ""
            if brought.kept:
                kept = f" It uses the job’s own {', '.join(brought.kept)}."
            messages.success(request, f"{brought.recipe} is in {job}.{kept}")
            return redirect("recipe", job=job.key, recipe=brought.recipe.key)
    return _entry(request, person, entry, form, status=422)


def entry_or_404(key: str) -> BookRecipe:
    """The starting set's recipe of that id."""
    for entry in starting_book():
        if entry.recipe.id == key:
            return entry
    raise Http404(f"no recipe {key} in the book")


def _entry(
    request: HttpRequest,
    person: User,
    entry: BookRecipe,
    form: BringForm,
    status: int = 200,
) -> HttpResponse:
    words = step_words(entry.recipe, entry.materials, person.units)
    context = {
        "entry": entry,
        "form": form,
        "steps": [
            {"words": row, "mark": _pace_marks(entry, row.step.id)} for row in words
        ],
        "materials": [
            {
                "material": material,
                "lines": label_lines(material, entry.material_marks[material.id]),
            }
            for material in entry.materials
        ],
        "marks": MARKS,
        "units": person.units,
    }
    return render(request, "recipes/entry.html", context, status=status)


def _pace_marks(entry: BookRecipe, step: str) -> str:
    """How a step's paces are known, each mark once."""
    prefix = f"steps.{step}."
    found = {
        mark: None
        for path, mark in sorted(entry.marks.items())
        if path.startswith(prefix) and path.endswith("_min_m2")
    }
    return ", ".join(MARKS.get(mark, mark) for mark in found)


def _names(entry: BookRecipe) -> str:
    return ", ".join(step.name or step.id for step in entry.recipe.steps)


def _asked_job(request: HttpRequest, person: User) -> str:
    """The job that somebody came from, where it is theirs."""
    asked = request.GET.get("job", "")
    return asked if any(job.key == asked for job in jobs_of(person.company)) else ""


urlpatterns = [
    path("book/", listing, name="book"),
    path("book/<slug:recipe>/", entry_page, name="book-recipe"),
    path("book/<slug:recipe>/bring/", bring, name="bring-recipe"),
]
