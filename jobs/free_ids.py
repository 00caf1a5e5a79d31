"""Ids for what is new, made from its name."""

from collections.abc import Collection

from django.utils.text import slugify

LONGEST_ID = 40  # of the job format


def free_id(name: str, otherwise: str, taken: Collection[str]) -> str:
    """An id made from a name that is not taken: "hall", "hall-2" ..."""
    stem = slugify(name).replace("_", "-").strip("-")[:LONGEST_ID].strip("-")
    stem = stem or otherwise
    key, number = stem, 1
    while key in taken:
        number += 1
        end = f"-{number}"
        key = stem[: LONGEST_ID - len(end)].rstrip("-") + end
    return key
