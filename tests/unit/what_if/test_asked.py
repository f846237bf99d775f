"""What may be asked."""

from math import inf, nan

import pytest

from towerlift.what_if import WhatIf


@pytest.mark.parametrize("name", ["share", "lean_east", "yaw", "drift_north", "by", "gust"])
@pytest.mark.parametrize("value", [nan, inf, -inf])
def test_only_numbers(name, value):
    with pytest.raises(ValueError, match=name):
        WhatIf(**{"passage": 1, "share": 0.5, name: value})


def test_only_within_the_travel_and_no_wind_below_nothing():
    for share in (-0.01, 1.01):
        with pytest.raises(ValueError, match="share"):
            WhatIf(passage=1, share=share)
    with pytest.raises(ValueError, match="gust"):
        WhatIf(passage=1, share=0.0, gust=-1.0)


def test_a_record_comes_back_as_it_went():
    asked = WhatIf(passage=3, share=0.25, lean_east=-0.002, behind="K1", by=0.01, gust=4.0)
    assert WhatIf.from_record(asked.as_record()) == asked


def test_every_fault_of_a_record_is_told_at_once():
    with pytest.raises(ValueError, match="share") as caught:
        WhatIf.from_record({"passage": 1.5, "tilt": 3, "gust": "strong", "behind": 4})
    for word in ('"tilt"', '"share" is missing', "gust", "behind"):
        assert word in str(caught.value)
    with pytest.raises(ValueError, match="whole number"):
        WhatIf.from_record({"passage": 1.5, "share": 0.0})
    with pytest.raises(ValueError, match="finite"):
        WhatIf.from_record({"passage": 1, "share": True})


def test_it_is_told_in_words():
    assert WhatIf(passage=0, share=0.0).in_words() == ""
    said = WhatIf(
        passage=0,
        share=0.0,
        lean_east=-0.002,
        drift_north=0.03,
        yaw=-0.001,
        behind="K2",
        by=0.012,
        gust=5.0,
    ).in_words()
    assert said == (
        "leans 2.0 mm/m west, drifts 30 mm north, turned 1.0 mm/m clockwise, "
        "K2 12 mm behind, gust 5.0 m/s"
    )
