"""Panelled runs. Check values: common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.errors import BadInput
from scheduling.panels import equal_panels, panelled_run
from scheduling.problem import Surface

INCH_M = 0.0254  # exactly, international inch


def five_panels(**more):
    values = {
        "panels": 5,
        "panel_width_m": 27 * INCH_M,
        "stile_width_m": 2.5 * INCH_M,
        "base_rail_m": 3.5 * INCH_M,
        "top_rail_m": 1.5 * INCH_M,
        "height_m": 36 * INCH_M,
    }
    return panelled_run(**values | more)


def test_five_panels_of_27_inches_with_six_stiles_of_two_and_a_half_are_150_long():
    assert five_panels().length_m == pytest.approx(150 * INCH_M, rel=1e-12)


def test_base_and_top_rail_leave_the_panel_its_height():
    assert five_panels().panel_height_m == pytest.approx(31 * INCH_M, rel=1e-12)


def test_equal_panels_in_a_run_of_150_inches_are_27_wide():
    run = equal_panels(
        length_m=150 * INCH_M,
        panels=5,
        stile_width_m=2.5 * INCH_M,
        base_rail_m=3.5 * INCH_M,
        top_rail_m=1.5 * INCH_M,
        height_m=36 * INCH_M,
    )
    assert run.panel_width_m == pytest.approx(27 * INCH_M, rel=1e-12)
    assert run.panel_m2 == pytest.approx(27 * 31 * INCH_M**2)


def test_every_panel_is_a_section_of_the_surface_it_makes():
    run = five_panels()
    surface = Surface(
        id="dado",
        room="hall",
        kind="panel",
        width_m=run.length_m,
        height_m=run.height_m,
        recipe="graining",
        stop_lines_m=run.stop_lines_m,
    )
    assert len(surface.sections) == 5
    assert sum(share for _, share in surface.sections) == pytest.approx(1.0)
    lines = (0.0, *run.stop_lines_m, run.length_m)
    for (left, right), start, end in zip(
        run.panel_edges_m, lines[:-1], lines[1:], strict=True
    ):
        assert start < left < right < end
        assert right - left == pytest.approx(run.panel_width_m)


@given(
    st.integers(1, 40),
    st.floats(0.05, 3.0),
    st.floats(0.0, 0.3),
    st.floats(0.0, 0.5),
    st.floats(0.0, 0.5),
)
def test_a_run_split_into_equal_panels_again_is_the_same_run(
    panels, width, stile, base, top
):
    frame = {"stile_width_m": stile, "base_rail_m": base, "top_rail_m": top}
    run = panelled_run(panels=panels, panel_width_m=width, height_m=2.4, **frame)
    again = equal_panels(panels=panels, length_m=run.length_m, height_m=2.4, **frame)
    assert again.panel_width_m == pytest.approx(width, rel=1e-9)
    assert again.stop_lines_m == pytest.approx(run.stop_lines_m, rel=1e-9)
    assert run.frame_m2 + panels * run.panel_m2 == pytest.approx(run.length_m * 2.4)
    assert run.frame_m2 >= -1e-9


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("panels", 0),
        ("panels", 2.5),
        ("panel_width_m", 0.0),
        ("stile_width_m", -0.1),
        ("base_rail_m", float("nan")),
        ("height_m", 0.1),
    ],
)
def test_a_run_that_cannot_be_built_is_refused_by_its_field(field, value):
    with pytest.raises(BadInput, match=field):
        five_panels(**{field: value})


def test_stiles_that_fill_the_run_are_refused():
    with pytest.raises(BadInput, match=r"stile_width_m.*6 stiles"):
        equal_panels(
            length_m=1.0,
            panels=5,
            stile_width_m=0.2,
            base_rail_m=0.1,
            top_rail_m=0.1,
            height_m=1.0,
        )
