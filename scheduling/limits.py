"""Numbers that must lie within bounds: one check, one wording, for plain arguments."""

from math import isfinite

from scheduling.errors import BadInput, Fault


def within(*given: tuple[str, float, float, float]) -> None:
    """Refuse every (field, value, low, high) whose value is not within its bounds.

    The bounds themselves are allowed; NaN and infinity never are. BadInput names all
    that are wrong at once.
    """
    faults = [
        Fault(field, value, f"a number from {low:g} to {high:g}")
        for field, value, low, high in given
        if not (isfinite(value) and low <= value <= high)
    ]
    if faults:
        raise BadInput(faults)
