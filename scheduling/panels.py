"""Panelled runs: equal panels between stiles and rails, each panel a section.

A panel is edged by moulding on all sides, so a wet edge may stop at any stile: a panel
is glazed or grained by itself. Common practice, no source.
"""

from dataclasses import dataclass

from scheduling.errors import bad
from scheduling.limits import within

_SMALLEST_M, _LARGEST_M = 0.01, 1000.0  # Assumed: outside it is a slip of the pen
_MOST_PANELS = 1000  # Assumed: as above
_ROUNDING_M = 1e-9  # a nanometre: sizes typed in inches come out of metres unrounded


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelledRun:
    """A run of equal panels; a stile stands at both ends and between neighbours."""

    panels: int
    length_m: float
    height_m: float
    panel_width_m: float
    panel_height_m: float
    stile_width_m: float

    @property
    def panel_m2(self) -> float:
        """Area of one panel, moulding to moulding."""
        return self.panel_width_m * self.panel_height_m

    @property
    def frame_m2(self) -> float:
        """Area of stiles and rails together."""
        return self.length_m * self.height_m - self.panels * self.panel_m2

    @property
    def panel_edges_m(self) -> tuple[tuple[float, float], ...]:
        """Left and right edge of each panel, from the left end of the run."""
        pitch_m = self.panel_width_m + self.stile_width_m
        return tuple(
            (self.stile_width_m + n * pitch_m, (n + 1) * pitch_m)
            for n in range(self.panels)
        )

    @property
    def stop_lines_m(self) -> tuple[float, ...]:
        """Middles of the stiles between panels: a section for each panel."""
        half_m = self.stile_width_m / 2
        return tuple(right + half_m for _, right in self.panel_edges_m[:-1])


def panelled_run(
    *,
    panels: int,
    panel_width_m: float,
    stile_width_m: float,
    base_rail_m: float,
    top_rail_m: float,
    height_m: float,
) -> PanelledRun:
    """The run that so many panels of a width make; BadInput where rails fill it."""
    _count(panels)
    within(("panel_width_m", panel_width_m, _SMALLEST_M, _LARGEST_M))
    panel_height_m = _panel_height_m(base_rail_m, top_rail_m, height_m, stile_width_m)
    return PanelledRun(
        panels=panels,
        length_m=panels * panel_width_m + (panels + 1) * stile_width_m,
        height_m=height_m,
        panel_width_m=panel_width_m,
        panel_height_m=panel_height_m,
        stile_width_m=stile_width_m,
    )


def equal_panels(
    *,
    length_m: float,
    panels: int,
    stile_width_m: float,
    base_rail_m: float,
    top_rail_m: float,
    height_m: float,
) -> PanelledRun:
    """So many equal panels on a wall of that length; BadInput where stiles fill it."""
    _count(panels)
    within(("length_m", length_m, _SMALLEST_M, _LARGEST_M))
    panel_height_m = _panel_height_m(base_rail_m, top_rail_m, height_m, stile_width_m)
    left_m = length_m - (panels + 1) * stile_width_m
    if left_m / panels < _SMALLEST_M - _ROUNDING_M:
        raise bad(
            "stile_width_m",
            stile_width_m,
            f"{panels + 1} stiles must leave panels of at least {_SMALLEST_M:g} m "
            f"in {length_m:g} m",
        )
    return PanelledRun(
        panels=panels,
        length_m=length_m,
        height_m=height_m,
        panel_width_m=left_m / panels,
        panel_height_m=panel_height_m,
        stile_width_m=stile_width_m,
    )


def _count(panels: int) -> None:
    within(("panels", panels, 1, _MOST_PANELS))
    if panels != int(panels):
        raise bad("panels", panels, "a whole number")


def _panel_height_m(
    base_rail_m: float, top_rail_m: float, height_m: float, stile_width_m: float
) -> float:
    within(
        ("height_m", height_m, _SMALLEST_M, _LARGEST_M),
        ("stile_width_m", stile_width_m, 0, _LARGEST_M),
        ("base_rail_m", base_rail_m, 0, _LARGEST_M),
        ("top_rail_m", top_rail_m, 0, _LARGEST_M),
    )
    left_m = height_m - base_rail_m - top_rail_m
    if left_m < _SMALLEST_M - _ROUNDING_M:
        raise bad(
            "height_m",
            height_m,
            f"at least {_SMALLEST_M:g} m more than both rails together",
        )
    return left_m
