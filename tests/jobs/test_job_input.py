"""Files as people hand them in: refused with what is allowed, never a traceback."""

import json
from pathlib import Path

import pytest

from jobs.factories import small_job
from jobs.job_input import MOST_BYTES, json_of, json_of_file, refusal, write_json
from scheduling.errors import BadInput, Fault
from scheduling.job_file import write_job

REFUSED = {
    "empty": (b"", "JSON (line 1, column 1"),
    "cut off": (b'{"id": ', "JSON (line 1, column 8"),
    "utf-16": ('{"id": 1}'.encode("utf-16"), "text in UTF-8 (byte 1"),
    "latin-1": ('{"title": "Hôtel"}'.encode("latin-1"), "text in UTF-8 (byte 13"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00", "text in UTF-8"),
    "nan": (b'{"x": NaN}', "NaN and Infinity are none"),
    "infinity": (b'{"x": -Infinity}', "NaN and Infinity are none"),
    "twins": (b'{"id": 1, "id": 2}', "a key given only once"),
    "deep": (b"[" * 200_000, "JSON"),
    "deep and closed": (b"[" * 60 + b"]" * 60, "nested at most 50 deep"),
    "deeper and closed": (b"[" * 9_000 + b"]" * 9_000, "nested at most 50 deep"),
    "many digits": (b'{"x": ' + b"9" * 5_000 + b"}", "fewer than 4,300 digits"),
    "too big": (b" " * (MOST_BYTES + 1), "at most 32 MB"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_not_json_is_refused_in_words(name: str) -> None:
    content, words = REFUSED[name]
    with pytest.raises(BadInput) as caught:
        json_of(content, "job.json")
    (fault,) = caught.value.faults
    assert words in str(fault)
    assert "\n" not in refusal(fault)


def test_a_byte_order_mark_is_no_fault() -> None:
    assert json_of(b"\xef\xbb\xbf" + '{"ä": 1}'.encode()) == {"ä": 1}


def test_fifty_levels_are_allowed() -> None:
    assert json_of(b"[" * 50 + b"]" * 50)


@pytest.mark.parametrize("name", ["missing.json", ".", "a\0b"])
def test_a_file_that_cannot_be_read_is_named(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadInput, match="file: "):
        json_of_file(name)


def test_a_refusal_stays_on_one_line() -> None:
    fault = Fault(path="title", value="two\nlines", allowed="text")
    assert refusal(fault) == 'title: "two\\nlines": text'
    assert refusal(Fault(path="a\nb", value=1, allowed="none")) == "a b: 1: none"


def test_a_file_is_written_whole_and_reads_back(tmp_path: Path) -> None:
    target = tmp_path / "out.json"
    target.write_text("old")
    write_json(str(target), write_job(small_job(title="Hôtel")), "--out")
    assert json.loads(target.read_text(encoding="utf-8"))["title"] == "Hôtel"
    assert [file.name for file in tmp_path.iterdir()] == ["out.json"]


def test_a_place_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"--out: .*a file that can be written"):
        write_json(str(tmp_path / "no" / "out.json"), {}, "--out")
    with pytest.raises(BadInput, match="--out"):
        write_json(str(tmp_path), {}, "--out")  # a folder
    assert list(tmp_path.iterdir()) == []
