"""How far a section on free lines hangs out of true: level, offset, wind."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.nesting.budget import FreeHangCurve
from towerlift.plan.model import Plan
from towerlift.rig.curves import Floats, HangCurve
from towerlift.shapes.solids import Shapes

# Full outline of a sharp-edged clad body: the upper end of 1.3 to 1.5 in common use.
FORCE_COEFFICIENT = 1.5
OUTLINE_STEP = 0.25


def amplified_tilt(level_difference: float, spacing: float, ratio: float) -> float:
    """Tilt of a section on elastic lines when one side is hauled too far.

    Parameters
    ----------
    level_difference : float
        Difference in haul between opposite sides. [m]
    spacing : float
        Distance between the lines. [m]
    ratio : float
        Tilting stiffness over toppling stiffness W h_G; infinity where the centre
        of gravity hangs below the lift points.

    Returns
    -------
    tilt : float
        ``level_difference / spacing * ratio / (ratio - 1)``. [rad]

    Raises
    ------
    ValueError
        If the ratio is not above one: the section topples, and no tilt answers.

    Notes
    -----
    Equilibrium of ``k (theta - theta_0) = W h_G theta``: derived here.
    """
    if not ratio > 1:
        raise ValueError(f"stiffness ratio must be above 1 to stand, got {ratio}")
    naive = level_difference / spacing
    return naive if ratio == float("inf") else naive * ratio / (ratio - 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class GustOnLift:
    """Wind on what stands above the wall head while a section hangs free.

    Attributes
    ----------
    force : float
        [N]
    arm : float
        Height of the force above the lift points. [m]
    line : float
        Length of the lines. [m]
    weight : float
        Weight that hangs. [N]
    tilt_stiffness, toppling : float
        k_theta of the lines and W h_G. [N m/rad]
    """

    force: float
    arm: float
    line: float
    weight: float
    tilt_stiffness: float
    toppling: float

    @property
    def sway(self) -> float:
        """Shift of the lift points, F L / W. [m]"""
        return self.force * self.line / self.weight

    @property
    def lean(self) -> float:
        """Tilt by the moment of the wind, F h_F / (k_theta - W h_G). [rad]"""
        left = self.tilt_stiffness - self.toppling
        if not left > 0:
            raise ValueError(f"the section topples: {left} N m/rad of stiffness left")
        return self.force * self.arm / left


def gust_pressure(speed: float) -> float:
    """Dynamic pressure of a gust, half rho v squared with 1.25 kg/m3. [Pa]

    Parameters
    ----------
    speed : float
        [m/s]

    Returns
    -------
    pressure : float
        [Pa]

    References
    ----------
    .. [1] EN 1991-1-4, 4.5: basic velocity pressure, air at 1.25 kg/m3.
    """
    return 0.625 * speed**2


def silhouette(heights: Floats, half_widths: Floats, above: float) -> tuple[float, float]:
    """Area of a section's outline above a height, and the height of its centre.

    Parameters
    ----------
    heights : (k,) float
        Rising heights at which the outline is known. [m]
    half_widths : (k,) float
        Half width there; straight between. [m]
    above : float
        Only what is above this counts. [m]

    Returns
    -------
    area : float
        Full outline, as if nothing were open. [m^2]
    centre : float
        Height of its centre; `above` where there is no area. [m]
    """
    area = moment = 0.0
    for low, high, wide, narrow in zip(
        heights[:-1], heights[1:], half_widths[:-1], half_widths[1:], strict=True
    ):
        if high <= above or high <= low:
            continue
        cut = max(low, above)
        at_cut = wide + (narrow - wide) * (cut - low) / (high - low)
        rise, mean = high - cut, at_cut + narrow
        area += mean * rise
        # Centre of a trapezoid above its lower side.
        offset = rise / 3.0 * (at_cut + 2.0 * narrow) / mean if mean > 0 else 0.0
        moment += mean * rise * (cut + offset)
    return (area, moment / area) if area > 0 else (0.0, above)


def outline(shapes: Shapes, passage: Passage, section: str) -> tuple[Floats, Floats]:
    """Half width of a section with its fit-out, by height.

    Parameters
    ----------
    shapes : Shapes
        All that the plan draws.
    passage : Passage
        Says what is fitted.
    section : str
        Its name.

    Returns
    -------
    heights : (k,) float
        Rising, section frame. [m]
    half_widths : (k,) float
        Widest reach from the axis along x or y in the step that begins there, so
        that the outline is never narrower than the section. [m]
    """
    names = [section] + [i for i in sorted(passage.fitted) if shapes.fitted_on[i] == section]
    pieces = [shapes.sections[section]] + [shapes.fit_out[name] for name in names[1:]]
    corners = [
        piece.solid.vertices[piece.solid.faces] for piece in pieces if piece.solid is not None
    ]
    triangles = np.concatenate(corners)
    low, high = triangles[:, :, 2].min(axis=1), triangles[:, :, 2].max(axis=1)
    heights = np.arange(low.min(), high.max() + OUTLINE_STEP, OUTLINE_STEP)
    wide = np.zeros(len(heights))
    for row, foot in enumerate(heights):
        within = (high >= foot) & (low <= foot + OUTLINE_STEP)
        wide[row] = _reach(triangles[within], foot, foot + OUTLINE_STEP)
    return heights, wide


def _reach(triangles: Floats, foot: float, head: float) -> float:
    """Farthest reach from the axis along x or y of edges between two heights."""
    if not len(triangles):
        return 0.0
    starts = triangles.reshape(-1, 3)
    ends = triangles[:, [1, 2, 0]].reshape(-1, 3)
    rise = ends[:, 2] - starts[:, 2]
    safe = np.where(rise == 0, 1.0, rise)
    reach = 0.0
    for level in (foot, head):
        share = np.where(rise == 0, 0.0, np.clip((level - starts[:, 2]) / safe, 0.0, 1.0))
        points = starts + share[:, None] * (ends - starts)
        inside = (points[:, 2] >= foot - 1e-9) & (points[:, 2] <= head + 1e-9)
        if inside.any():
            reach = max(reach, float(np.abs(points[inside, :2]).max()))
    return reach


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Wind at which hauling stops, and how high the wall shelters.

    Attributes
    ----------
    gust : float
        [m/s]
    shelter : float
        Height of the wall head. [m]
    """

    gust: float
    shelter: float


def since_levelling(hang: HangCurve, step: float, before: Floats | None) -> Floats:
    """Change of the tilt at rest since the corners were last levelled.

    Crews level by rod or water level before the haul and at every step of it, so that
    an offset of the centre of gravity or an odd rope tilts the section by no more than
    what has changed since; a pick-up changes it at once.

    Parameters
    ----------
    hang : HangCurve
        Loads along a passage.
    step : float
        Haul between two levellings. [m]
    before : (2,) float or None
        Tilt at rest just before the passage, where it goes on without a halt. [rad]

    Returns
    -------
    change : (k,) float
        Greatest change within a step either way, in the order of the heels. [rad]
    """
    change = np.zeros(len(hang.heels))
    for row, heel in enumerate(hang.heels):
        near = hang.tilt[np.abs(hang.heels - heel) <= step]
        apart = [float(np.hypot(*(near - hang.tilt[row]).T).max())]
        if before is not None and abs(heel - hang.heels[0]) <= step:
            apart.append(float(np.hypot(*(before - hang.tilt[row]))))
        change[row] = max(apart) if np.isfinite(apart).all() else np.nan
    return change


def free_hang_curve(  # noqa: PLR0913  (the haul before is an option)
    plan: Plan,
    shapes: Shapes,
    passage: Passage,
    hang: HangCurve,
    weather: Weather,
    *,
    before: HangCurve | None = None,
) -> FreeHangCurve:
    """How far out of true what is hauled hangs, along one passage.

    Parameters
    ----------
    plan : Plan
        Its lift says how far out of level hauling may get.
    shapes : Shapes
        Outlines for the wind.
    passage : Passage
        What moves.
    hang : HangCurve
        Loads along it.
    weather : Weather
        Gust and shelter.
    before : HangCurve or None
        Loads of the passage that this one goes on from without a halt.

    Returns
    -------
    curve : FreeHangCurve
        `unknown` says so where it topples.
    """
    lift = next(lift for lift in plan.lifts if lift.name == hang.lift)
    order = np.argsort(hang.heels, kind="stable")
    heels = hang.heels[order]
    ratio, height = hang.ratio[order], hang.height[order]
    if not (ratio > 1.0).all():
        why = f"it topples: stiffness ratio {float(ratio.min()):.2f} in lift {lift.name}"
        return _not_known(heels, why)
    level = np.array(
        [amplified_tilt(lift.level_tolerance, hang.spacing, float(r)) for r in ratio]
    )
    last = None if before is None else before.tilt[-1]
    rest = since_levelling(hang, lift.step, last)[order]
    outlines = outlines_of(shapes, passage)
    sway, lean = np.zeros(len(heels)), np.zeros(len(heels))
    lift_height = hang.centre[order, 2] - height
    for row, heel in enumerate(heels):
        force, centre = wind_on(outlines, float(heel), weather.gust, weather.shelter)
        gust = GustOnLift(
            force=force,
            arm=abs(centre - float(heel) - float(lift_height[row])),
            line=float(hang.lengths[order[row]].max()),
            weight=float(hang.weight[order[row]]),
            tilt_stiffness=float(hang.tilt_stiffness[order[row]]),
            toppling=float(hang.weight[order[row]] * height[row]),
        )
        if not gust.tilt_stiffness > gust.toppling:
            return _not_known(heels, f"it topples at heel {heel:.2f} m in lift {lift.name}")
        sway[row], lean[row] = gust.sway, gust.lean
    if not np.isfinite([level + rest, sway, lean]).all():
        return _not_known(heels, f"it does not come to rest near true in lift {lift.name}")
    return FreeHangCurve(
        heels=heels,
        tilt=level + rest,
        sway=sway,
        lean=lean,
        pivot=float(lift_height.min()),
    )


def _not_known(heels: Floats, why: str) -> FreeHangCurve:
    nothing = np.zeros(len(heels))
    return FreeHangCurve(
        heels=heels, tilt=nothing, sway=nothing, lean=nothing, pivot=0.0, unknown=why
    )


Outlines = tuple[tuple[float, Floats, Floats], ...]


def outlines_of(shapes: Shapes, passage: Passage) -> Outlines:
    """Outline of each moving section, with its height above the hauled one's heel. [m]"""
    hauled = passage.standing[passage.moving[0]].heel_from
    return tuple(
        (passage.standing[name].heel_from - hauled, *outline(shapes, passage, name))
        for name in passage.moving
    )


def wind_on(
    outlines: Outlines, heel: float, gust: float, shelter: float
) -> tuple[float, float]:
    """Force of a gust on what stands above the wall, and where it acts.

    Parameters
    ----------
    outlines : tuple
        From :func:`outlines_of`.
    heel : float
        Heel height of the hauled section. [m]
    gust : float
        [m/s]
    shelter : float
        Height of the wall head. [m]

    Returns
    -------
    force : float
        [N]
    height : float
        Of its centre, shaft frame; the heel where there is no force. [m]
    """
    area = moment = 0.0
    for offset, heights, wide in outlines:
        steps = np.repeat(heights, 2)[1:], np.repeat(wide, 2)[:-1]
        part, centre = silhouette(steps[0] + heel + offset, steps[1], shelter)
        area += part
        moment += part * centre
    force = FORCE_COEFFICIENT * gust_pressure(gust) * area
    return force, (moment / area if area > 0 else heel)


def free_hang_curves(
    plan: Plan,
    shapes: Shapes,
    passages: Iterable[Passage],
    hangs: Iterable[HangCurve],
    gust: float,
) -> dict[int, FreeHangCurve]:
    """Curves of every passage whose lift runs free of guides, by passage index.

    Parameters
    ----------
    plan : Plan
        Its lifts say which are guided.
    shapes : Shapes
        Outlines for the wind.
    passages : iterable of Passage
        Of the raise.
    hangs : iterable of HangCurve
        Loads along them.
    gust : float
        Gust at which hauling stops. [m/s]

    Returns
    -------
    curves : dict of int to FreeHangCurve
        A passage without loads is left out.
    """
    free = {lift.name for lift in plan.lifts if not lift.guided}
    by_index = {passage.index: passage for passage in passages}
    loads = {hang.passage: hang for hang in hangs}
    weather = Weather(gust=gust, shelter=plan.shaft.wall_head)
    curves = {}
    for index, hang in loads.items():
        if hang.lift not in free:
            continue
        passage, last = by_index[index], loads.get(index - 1)
        # A haul cut at a pick-up goes on at once; after a float the corners are levelled.
        goes_on = (
            last is not None and passage.event and by_index[index - 1].step == passage.step
        )
        curves[index] = free_hang_curve(
            plan, shapes, passage, hang, weather, before=last if goes_on else None
        )
    return curves
