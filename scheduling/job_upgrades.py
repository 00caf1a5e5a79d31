"""Job files of older versions of the format, brought up to date one version at a time.

Works on parsed JSON that nobody has checked yet: what is not as the older version had
it is left alone, and the reader of the format refuses it with its place.
"""

import copy
import re
from collections.abc import Callable, Mapping
from typing import Any

from scheduling.errors import bad

Json = Any
# From a version of the format to what the next one makes of its whole file. An upgrade
# may change its argument, sets no ``format``, and leaves alone what it does not expect.
Upgrades = Mapping[int, Callable[[dict[str, Json]], dict[str, Json]]]
UPGRADES: Upgrades = {}

_VERSIONED = re.compile(r"(coat-by-coat/)([1-9][0-9]{0,8})")


def brought_up_to_date(value: Json, *, to: str, upgrades: Upgrades = UPGRADES) -> Json:
    """The file as the format ``to`` has it; what was given stays as it was.

    A value that names no version, or one that no upgrade leads on from, comes back as
    far as it went, to be refused by whoever reads it. BadInput for a newer format.
    """
    written, wanted = _version(value), _VERSIONED.fullmatch(to)
    assert wanted is not None  # noqa: S101 - our own format has a version
    last = int(wanted[2])
    if written is None or written == last:
        return value
    if written > last:
        allowed = f"{to} or older; a newer version of the program wrote this file"
        raise bad("format", value["format"], allowed)
    value = copy.deepcopy(value)
    for version in range(written, last):
        if version not in upgrades:
            break
        value = upgrades[version](value) | {"format": f"{wanted[1]}{version + 1}"}
    return value


def _version(value: Json) -> int | None:
    named = value.get("format") if isinstance(value, dict) else None
    found = _VERSIONED.fullmatch(named) if isinstance(named, str) else None
    return None if found is None else int(found[2])
