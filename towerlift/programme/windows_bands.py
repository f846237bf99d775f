"""Bands of cladding on the four faces of a section: widths, areas, courses and hours."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, hypot

from towerlift.findings import Bound
from towerlift.plan.bodies import FitOut
from towerlift.plan.limits import UsualLimit, limit_in_plan
from towerlift.plan.model import Plan
from towerlift.units import Dimension

RATE = UsualLimit(
    name="cladding rate of four roofers",
    value=2.5,
    unit="m^2/h",
    bound=Bound.AT_MOST,
    dimension=None,
    source="2.5 m^2 of shingles an hour: common practice, no source; time a trial course",
)
LAP_TIME = UsualLimit(
    name="time for a lap between bands",
    value=45.0,
    unit="min",
    bound=Bound.AT_LEAST,
    dimension=Dimension.TIME,
    source="common practice, no source",
)
GAUGE = UsualLimit(
    name="gauge of the courses",
    value=0.15,
    unit="m",
    bound=Bound.AT_MOST,
    dimension=Dimension.LENGTH,
    source="a third of a 450 mm shingle, so that three lie over each other: common practice, "
    "no source",
)
HEAD_LAP = UsualLimit(
    name="head lap of the courses",
    value=0.05,
    unit="m",
    bound=Bound.AT_LEAST,
    dimension=Dimension.LENGTH,
    source="common practice, no source",
)
RATED_CREW = 4
COURSES_LEFT = 2  # lowest courses of a band that are nailed at the head only
_ADJOINS = 0.021  # bands whose ends are no farther apart are neighbours [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One band of cladding, as high as it is laid at one park.

    Attributes
    ----------
    name : str
        Of the fit-out item.
    section : str
        Section it is on.
    low, high : float
        Heights s between which it lies. [m]
    half_low, half_high : float
        Half width of its outside at foot and head. [m]
    area : float
        Of its four sloping faces, as the plan gives it, or else as drawn. [m^2]
    mass : float
        [kg]
    sheets : bool
        Whether it is of sheets (lead, felt), which the wind takes sooner and which must be
        laid dry, and not of small pieces.
    """

    name: str
    section: str
    low: float
    high: float
    half_low: float
    half_high: float
    area: float
    mass: float
    sheets: bool

    def half(self, s: float) -> float:
        """Half width of its outside at a height. [m]"""
        share = (s - self.low) / (self.high - self.low)
        return self.half_low + share * (self.half_high - self.half_low)

    @property
    def slope(self) -> float:
        """Sloping length over height of its faces."""
        return hypot(self.high - self.low, self.half_low - self.half_high) / (
            self.high - self.low
        )


def bands_of(plan: Plan) -> tuple[Band, ...]:
    """Every band of cladding in a plan.

    Parameters
    ----------
    plan : Plan
        Its fit-out of kind "cladding" that has a shell.

    Returns
    -------
    bands : tuple of Band
        By section, highest first.
    """
    found = [_band(item) for item in plan.fit_out if item.kind == "cladding"]
    bands = [band for band in found if band is not None]
    return tuple(sorted(bands, key=lambda band: (band.section, -band.low)))


def _band(item: FitOut) -> Band | None:
    shell = item.shell
    if shell is None or not shell.head > shell.foot:
        return None
    drawn = face_area(shell.half_foot, shell.half_head, shell.head - shell.foot)
    return Band(
        name=item.name,
        section=item.on,
        low=shell.foot,
        high=shell.head,
        half_low=shell.half_foot + shell.thickness,
        half_high=shell.half_head + shell.thickness,
        area=item.area if item.area is not None else drawn,
        mass=drawn * shell.surface_density + sum(each.mass for each in item.masses),
        sheets=item.laid == "sheets",
    )


def face_area(half_low: float, half_high: float, height: float) -> float:
    """Area of the four sloping faces of a frustum of a square pyramid. [m^2]"""
    return 4.0 * (half_low + half_high) * hypot(height, half_low - half_high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """How fast roofers work, and how courses lie.

    Attributes
    ----------
    area_rate : float
        Of four roofers. [m^2/s]
    lap_time : float
        For the lap at one end of a band. [s]
    gauge, head_lap : float
        Of the courses, along the slope. [m]
    source : str
        Who says so.
    """

    area_rate: float
    lap_time: float
    gauge: float
    head_lap: float
    source: str


def rates_of(plan: Plan) -> Rates:
    """Rates that the plan sets, else the usual ones.

    Parameters
    ----------
    plan : Plan
        May set limits of these names.

    Returns
    -------
    rates : Rates
        With the sources of all four.

    Raises
    ------
    UnitError
        If the plan writes one in a unit that does not measure it.
    """
    rate, lap, gauge, head = (
        limit_in_plan(plan, usual) for usual in (RATE, LAP_TIME, GAUGE, HEAD_LAP)
    )
    sources = dict.fromkeys(each.source for each in (rate, lap, gauge, head))
    return Rates(
        area_rate=rate.value / 3600.0,
        lap_time=60.0 * lap.value,
        gauge=gauge.value,
        head_lap=head.value,
        source="; ".join(sources),
    )


def hours_for(band: Band, rates: Rates, n_roofers: int) -> float:
    """Time to clad a band, the lap at its head included.

    Parameters
    ----------
    band : Band
        What is clad.
    rates : Rates
        Of four roofers.
    n_roofers : int
        At work together; more of them are taken to do as much more.

    Returns
    -------
    time : float
        [s]

    Raises
    ------
    ValueError
        If nobody is at work, or the rate is not above nothing.
    """
    if n_roofers < 1 or not rates.area_rate > 0:
        raise ValueError(f"{n_roofers} roofers at {rates.area_rate} m^2/s clad nothing")
    return band.area / rates.area_rate * RATED_CREW / n_roofers + rates.lap_time


def n_courses(band: Band, rates: Rates) -> int:
    """Courses of a band, a part of one counted as one."""
    return max(1, ceil((band.high - band.low) * band.slope / rates.gauge - 1e-9))


def shortest_course(band: Band, rates: Rates, n_roofers: int) -> float:
    """Time for one course round the spire at its longest, which must not be broken off. [s]"""
    widest = 8.0 * max(band.half_low, band.half_high) * rates.gauge
    return widest / rates.area_rate * RATED_CREW / n_roofers


@dataclass(frozen=True, slots=True, kw_only=True)
class Lap:
    """The joint between two bands, one over the other.

    Attributes
    ----------
    upper, lower : str
        Names of the bands.
    s : float
        Height of the joint. [m]
    slid_under : bool
        Whether the upper band is laid first, so that the lower one slides under it.
    overlap : float
        Length along the slope by which they lie over each other: head lap and a gauge. [m]
    words : str
        What the roofers must do.
    """

    upper: str
    lower: str
    s: float
    slid_under: bool
    overlap: float
    words: str


def laps_of(bands: Sequence[Band], order: Sequence[str], rates: Rates) -> tuple[Lap, ...]:
    """How neighbouring bands are lapped, by the order in which they are laid.

    Parameters
    ----------
    bands : sequence of Band
        Of one section, highest first.
    order : sequence of str
        Names of bands, first laid first; one that is not in it is laid last.
    rates : Rates
        Gauge and head lap.

    Returns
    -------
    laps : tuple of Lap
        From the top down. Within every band the lowest course is laid first.
    """
    place = {name: number for number, name in enumerate(order)}
    last = len(order)
    laps = []
    for upper, lower in pairwise(bands):
        if abs(upper.low - lower.high) > _ADJOINS:
            continue
        under = place.get(upper.name, last) <= place.get(lower.name, last)
        words = (
            f"leave the lowest {COURSES_LEFT} courses of {upper.name} nailed at the head only "
            f"and skirted; the top course of {lower.name} slides under them, then nail them "
            "down"
            if under
            else f"{upper.name} starts over the top course of {lower.name}, as on any roof"
        )
        laps.append(
            Lap(
                upper=upper.name,
                lower=lower.name,
                s=upper.low,
                slid_under=under,
                overlap=rates.head_lap + rates.gauge,
                words=words,
            )
        )
    return tuple(laps)
