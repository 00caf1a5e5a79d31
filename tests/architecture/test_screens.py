"""The words people read are theirs, not an office's."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

OFFICE_WORDS = re.compile(
    r"\b(?:tasks?|tickets?|sprints?|lags?|resources?|dependenc(?:y|ies)|milestones?"
    r"|boards?|cards?|pipelines?|workflows?|percent complete)\b",
    re.IGNORECASE,
)
READ_ALOUD = {"alt", "aria-description", "aria-label", "label", "placeholder", "title"}
NOT_SHOWN = {"script", "style"}
TEMPLATE_CODE = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", re.DOTALL)
TEMPLATE_STRING = re.compile(
    r"\{%\s*(?:translate|trans)\s+(\"[^\"]*\"|'[^']*')|default:(\"[^\"]*\"|'[^']*')"
)


class Words(HTMLParser):
    """Gathers what a template shows or has read aloud."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Attributes that are shown count as text."""
        self._hidden += tag in NOT_SHOWN
        self.words += [value for name, value in attrs if name in READ_ALOUD and value]

    def handle_endtag(self, tag: str) -> None:
        """Leaves a part that is not shown."""
        self._hidden -= tag in NOT_SHOWN

    def handle_data(self, data: str) -> None:
        """Text between tags."""
        if not self._hidden:
            self.words.append(data)


def shown(template: str) -> str:
    """The text of a template that a person can read."""
    reader = Words()
    reader.feed(TEMPLATE_CODE.sub(" ", template))
    strings = ["".join(found) for found in TEMPLATE_STRING.findall(template)]
    return "\n".join(reader.words + strings)


@pytest.mark.parametrize(
    ("template", "found"),
    [
        ("<p>Your tasks</p>", ["tasks"]),
        ('<a title="Open the board">x</a>', ["board"]),
        ('<p>{{ name|default:"Task" }}</p>', ["Task"]),
        ('<div class="card">Hall {{ task.name }}</div>', []),
        ("<script>const task = 1;</script><p>Hall</p>", []),
        ("<p>The flag on the cardboard</p>", []),
    ],
)
def test_the_reader_sees_what_a_person_sees(template: str, found: list[str]) -> None:
    assert OFFICE_WORDS.findall(shown(template)) == found


def test_no_page_uses_an_office_word() -> None:
    templates = sorted((ROOT / "templates").rglob("*.html"))
    assert templates
    found = {
        str(file.relative_to(ROOT)): words
        for file in templates
        if (words := OFFICE_WORDS.findall(shown(file.read_text())))
    }
    assert found == {}
