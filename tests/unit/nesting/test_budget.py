"""The clearance that must be left, part by part, by hand."""

import math

import pytest

from towerlift.nesting.budget import FreeHang, GapBudget, guided_shift

PARTS = {
    "running": 0.020,
    "play": 0.0,
    "swelling": 0.003,
    "fabrication": 0.006,
    "survey": 0.008,
    "tilt": 0.005,
    "sway": 0.0075,
}


def test_only_workshop_and_survey_go_by_root_sum_square():
    # 6 and 8 make 10; all else adds: 20 + 3 + 10 + 5 + 7.5.
    assert GapBudget(**PARTS).total == pytest.approx(0.0455, abs=1e-12)


def test_tilt_and_sway_add_directly():
    with_both = GapBudget(**PARTS).total
    without = GapBudget(**{**PARTS, "tilt": 0.0, "sway": 0.0}).total
    assert with_both - without == pytest.approx(0.0125, abs=1e-12)


@pytest.mark.parametrize(("play", "counted"), [(0.010, 0.020), (0.020, 0.020), (0.025, 0.025)])
def test_play_counts_in_place_of_running_where_it_is_more(play, counted):
    budget = GapBudget(**{**PARTS, "play": play})
    assert budget.total == pytest.approx(counted + 0.003 + 0.010 + 0.0125, abs=1e-12)


def test_the_sum_in_words_shows_every_part():
    assert GapBudget(**PARTS).in_words() == (
        "20 running + 3.0 swelling + 10.0 workshop and survey (root-sum-square of 6 and 8) "
        "+ 5.0 tilt + 7.5 sway = 45.5 mm"
    )
    assert "25 play of the shoes" in GapBudget(**{**PARTS, "play": 0.025}).in_words()


@pytest.mark.parametrize("name", sorted(PARTS))
@pytest.mark.parametrize("value", [math.nan, math.inf, -0.001])
def test_no_part_may_be_unknown_or_negative(name, value):
    with pytest.raises(ValueError, match=name):
        GapBudget(**{**PARTS, name: value})


@pytest.mark.parametrize(
    ("height", "shift"),
    [
        (0.0, 0.02),  # at the lower shoe
        (2.0, 0.02),  # half way: only sliding counts
        (4.0, 0.02),  # at the upper shoe
        (6.0, 0.04),  # half a span above: 2 x 6/4 - 1 = 2
        (-2.0, 0.04),  # half a span below
        (10.0, 0.08),
    ],
)
def test_a_body_on_two_shoes_leans_from_one_to_the_other(height, shift):
    assert guided_shift(0.02, 4.0, height) == pytest.approx(shift, abs=1e-12)


@pytest.mark.parametrize("span", [0.0, -1.0, math.nan])
def test_shoes_at_one_height_hold_nothing_upright(span):
    with pytest.raises(ValueError, match="apart"):
        guided_shift(0.02, span, 1.0)


def test_a_hung_section_turns_about_its_lift_points():
    hang = FreeHang(tilt=0.002, sway=0.005, lean=0.001, pivot=0.5)
    assert hang.tilt_shift(0.5) == 0.0
    assert hang.sway_shift(0.5) == 0.005
    assert hang.tilt_shift(3.0) == pytest.approx(0.005)
    assert hang.sway_shift(3.0) == pytest.approx(0.0075)
    assert hang.tilt_shift(-0.5) == pytest.approx(0.002)
