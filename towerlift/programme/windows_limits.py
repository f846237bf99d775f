"""Usual limits of the roofer's windows."""

from towerlift.findings import Bound
from towerlift.plan.limits import UsualLimit
from towerlift.programme.windows_bands import GAUGE, HEAD_LAP, LAP_TIME, RATE
from towerlift.programme.windows_reach import HIGHEST, LEAN, LOWEST
from towerlift.units import Dimension

_GUIDANCE = "23 mph mean and 35 mph gust for slates, tiles and battens: common roofing guidance"
_SHEETS = "17 mph mean and 26 mph gust for felt and long sheets: common roofing guidance"


def _wind(name: str, value: float, source: str) -> UsualLimit:
    return UsualLimit(
        name=name,
        value=value,
        unit="m/s",
        bound=Bound.AT_MOST,
        dimension=Dimension.SPEED,
        source=source,
    )


MEAN = _wind("mean wind while cladding", 10.3, _GUIDANCE)
GUST = _wind("gust while cladding", 15.6, _GUIDANCE)
MEAN_SHEETS = _wind("mean wind while laying sheets", 7.6, _SHEETS)
GUST_SHEETS = _wind("gust while laying sheets", 11.6, _SHEETS)
OFF = UsualLimit(
    name="time off the section before it may move",
    value=15.0,
    unit="min",
    bound=Bound.AT_LEAST,
    dimension=Dimension.TIME,
    source="tags counted and boards in before anybody touches a tackle: common practice, "
    "no source",
)
LIMITS = (
    *(MEAN, GUST, MEAN_SHEETS, GUST_SHEETS, OFF),
    *(LOWEST, HIGHEST, LEAN, RATE, LAP_TIME, GAUGE, HEAD_LAP),
)
