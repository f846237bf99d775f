"""Wind on what stands out of the shaft, section by section and from every direction."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from towerlift.mechanics.wind import (
    TERRAINS,
    Terrain,
    gust_of,
    peak_pressure,
    pressure_profile,
    probability_factor,
)
from towerlift.motion.passages import Passage
from towerlift.nesting.pairs import Workshop
from towerlift.plan.model import Plan
from towerlift.plan.work import SiteWind
from towerlift.rig.curves import Floats
from towerlift.rig.out_of_true import FORCE_COEFFICIENT, OUTLINE_STEP, outline

# Square to a face and quartering, and what lies between.
DIRECTIONS: Floats = np.arange(16) * np.pi / 8
# Bands in which what stands out is cut up. [m]
BAND = 0.125


@dataclass(frozen=True, slots=True, kw_only=True)
class WindRules:
    """How a gust becomes a force.

    Attributes
    ----------
    terrain : Terrain
        Upwind.
    ground : float
        Height of the ground, shaft frame. [m]
    shelter : float
        Height of the wall head: below it the shaft keeps the wind off. [m]
    corner : float
        Force on an open frame from the quarter over that square to a face.
    coefficients : mapping of str to float
        Of each section: force over pressure times outline, square to a face.
    """

    terrain: Terrain
    ground: float
    shelter: float
    corner: float
    coefficients: Mapping[str, float]

    @property
    def told_at(self) -> float:
        """Height above the ground at which the gust is told: the wall head. [m]"""
        return self.shelter - self.ground


def wind_rules(plan: Plan, corner: float) -> WindRules | None:
    """Rules by which a plan's wind is reckoned.

    Parameters
    ----------
    plan : Plan
        Terrain, wall head and force coefficients.
    corner : float
        Force on an open frame from the quarter over that square to a face.

    Returns
    -------
    rules : WindRules or None
        None where the plan does not say what the wind is like.
    """
    if plan.wind is None:
        return None
    return WindRules(
        terrain=TERRAINS[plan.wind.terrain],
        ground=plan.wind.ground,
        shelter=plan.shaft.wall_head,
        corner=corner,
        coefficients={
            section.name: section.force_coefficient
            if section.force_coefficient is not None and section.force_source.strip()
            else FORCE_COEFFICIENT
            for section in plan.sections
        },
    )


def site_gust(wind: SiteWind, height: float) -> float:
    """Peak gust of the site at a height, for the return period kept.

    Parameters
    ----------
    wind : SiteWind
        Terrain, basic speed and return period.
    height : float
        Above the ground. [m]

    Returns
    -------
    gust : float
        Speed whose pressure is the peak pressure of EN 1991-1-4. [m/s]
    """
    basic = wind.basic_speed * probability_factor(wind.return_years)
    return gust_of(float(peak_pressure(basic, height, TERRAINS[wind.terrain])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Wind on one section, square to a face, for one pascal at the wall head.

    Attributes
    ----------
    force : float
        [N/Pa]
    moment : float
        About the shaft floor. [N m/Pa]
    foot, head : float
        Heights between which it stands in the wind, shaft frame; alike where it
        does not. [m]
    area : float
        Outline in the wind. [m^2]
    corner : float
        Force from the quarter over that square to a face: 1 for what is boarded or clad.
    """

    force: float
    moment: float
    foot: float
    head: float
    area: float
    corner: float

    @property
    def centre(self) -> float:
        """Height at which the force acts, shaft frame. [m]"""
        return self.moment / self.force if self.force > 0 else self.foot


def half_widths(shop: Workshop, passage: Passage, section: str) -> tuple[Floats, Floats]:
    """Outline of a section with its fit-out, worked out once.

    Parameters
    ----------
    shop : Workshop
        Shapes of the plan.
    passage : Passage
        What is fitted.
    section : str
        Which.

    Returns
    -------
    heights : (k,) float
        Rising, section frame. [m]
    half_widths : (k,) float
        In the step that begins there. [m]
    """
    own = frozenset(i for i in passage.fitted if shop.shapes.fitted_on[i] == section)
    return shop.kept(("outline", section, own), lambda: outline(shop.shapes, passage, section))


def exposures(
    shop: Workshop, passage: Passage, heels: Mapping[str, float], rules: WindRules
) -> dict[str, Exposure]:
    """Wind on every section at one moment.

    Parameters
    ----------
    shop : Workshop
        Shapes of the plan.
    passage : Passage
        What is on the site and what is fitted.
    heels : mapping of str to float
        Heel height of each section, shaft frame. [m]
    rules : WindRules
        Of the same plan.

    Returns
    -------
    exposures : dict of str to Exposure
        One for each section in `heels`.

    Notes
    -----
    At each height the wind is on one section only: that which gives the greater force,
    a clad one within an open frame also. What is below the wall head is sheltered, and
    nothing else shelters.
    """
    names = [name for name in heels if shop.shapes.sections[name].solid is not None]
    outlines = {name: half_widths(shop, passage, name) for name in names}
    tops = [heels[name] + float(outlines[name][0][-1]) for name in names]
    top = max(tops, default=rules.shelter)
    n = max(1, int(np.ceil((top - rules.shelter) / BAND - 1e-9)))
    edges = np.linspace(rules.shelter, max(top, rules.shelter), n + 1)
    middles, rise = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
    wide = np.zeros((len(names), n))
    for row, name in enumerate(names):
        heights, half = outlines[name]
        step = np.floor((middles - heels[name] - heights[0]) / OUTLINE_STEP).astype(int)
        inside = (step >= 0) & (step < len(half))
        wide[row, inside] = 2 * half[step[inside]]
    drag = wide * np.array([[rules.coefficients[name]] for name in names]).reshape(-1, 1)
    profile = pressure_profile(middles - rules.ground, rules.told_at, rules.terrain)
    owner = drag.argmax(axis=0) if names else np.zeros(n, dtype=int)
    found = {}
    for name in heels:
        row = names.index(name) if name in names else -1
        own = (owner == row) & (drag[row] > 0) if row >= 0 else np.zeros(n, dtype=bool)
        force = drag[row, own] * rise[own] * profile[own] if row >= 0 else np.zeros(0)
        bands = np.flatnonzero(own)
        found[name] = Exposure(
            force=float(force.sum()),
            moment=float((force * middles[own]).sum()),
            foot=float(edges[bands[0]]) if bands.size else float(edges[0]),
            head=float(edges[bands[-1] + 1]) if bands.size else float(edges[0]),
            area=float((wide[row, own] * rise[own]).sum()),
            corner=1.0 if _closed_in(shop, passage, name) else rules.corner,
        )
    return found


def _closed_in(shop: Workshop, passage: Passage, section: str) -> bool:
    shells = {item.name for item in shop.plan.fit_out if item.shell is not None}
    return any(
        shop.shapes.fitted_on[item] == section and item in shells for item in passage.fitted
    )


def by_direction(corner: float, directions: Floats = DIRECTIONS, turn: float = 0.0) -> Floats:
    r"""Force from each direction over that square to a face.

    .. math:: 1 + (K - 1) \sin^2 2\alpha

    Parameters
    ----------
    corner : float
        K, from the quarter.
    directions : (d,) float
        Ways the wind blows, anticlockwise from east. [rad]
    turn : float
        Of the sections about their axis. [rad]

    Returns
    -------
    factor : (d,) float
        1 square to a face, K on the corner.
    """
    return np.asarray(1 + (corner - 1) * np.sin(2 * (directions - turn)) ** 2)
