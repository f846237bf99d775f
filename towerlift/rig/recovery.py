"""What each single failure does at every half metre of a haul, and how it is made safe."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from towerlift.motion.passages import Passage
from towerlift.nesting.pairs import Workshop
from towerlift.plan.rigging import Lift
from towerlift.rig.curves import Floats, HangCurve
from towerlift.rig.losses import Guiding, guiding
from towerlift.rig.pulls import line_capstans, line_coils, pawl_drop, rope_path, snatched
from towerlift.rig.recovery_ways import Drill, Ways, plan_lift, ways_of
from towerlift.rig.sudden import loads_after_loss, sudden_loads
from towerlift.rig.sudden_guided import guided_sudden_loads

Failure = Literal["rope", "corner", "pawl", "capstan crew", "jam"]
STEP = 0.5
# Crews stop when the pull has risen to this over what is expected.
STOP_PULL = 1.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """One failure at one height: what it does, and how the section is made safe.

    Attributes
    ----------
    failure : str
        Rope, corner, pawl, capstan crew or jam.
    what : str
        Tackle, lift point or capstan that fails, the worst of its kind.
    section, stage, lift : str
        Of the haul.
    heel : float
        [m]
    load : float
        Greatest on any tackle left, at the peak; infinite where it does not stand. [N]
    factor : float
        Least rope factor then, derated; 0 where it does not stand.
    stands : bool
        Whether it stays near true.
    safe : str
        Next safe state, or that there is none.
    minutes : float
        Until it is safe; infinite where it cannot be. [min]
    who, do : str
        Who acts, and what they do.
    """

    failure: Failure
    what: str
    section: str
    stage: str
    lift: str
    heel: float
    load: float
    factor: float
    stands: bool
    safe: str
    minutes: float
    who: str
    do: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lines:
    """One passage at its half metres: loads, ropes and how they are held."""

    shop: Workshop
    lift: Lift
    passage: Passage
    curve: HangCurve
    rows: np.ndarray[tuple[int], np.dtype[np.int64]]
    over: float
    fall: float

    @property
    def tensions(self) -> Floats:
        return self.curve.tensions[self.rows]

    @property
    def stretch(self) -> Floats:
        return self.curve.stretch[self.rows]

    @property
    def kept(self) -> Floats:
        """Pull that each rope bears, derated. [N]"""
        coils = line_coils(self.shop.plan, self.lift)
        return np.array([coil.breaking_force * coil.derating for coil in coils])

    def factors(self, loads: Floats) -> Floats:
        """Least rope factor of each row under loads on the tackles, everything on top."""
        with np.errstate(divide="ignore", invalid="ignore"):
            factors = self.kept / (np.maximum(loads, 1e-9) * self.over * self.fall)
        return np.asarray(np.where(np.isfinite(loads), factors, 0.0).min(axis=-1))


def rehearse(
    shop: Workshop,
    hangs: tuple[HangCurve, ...],
    drill: Drill,
    mass_factors: Mapping[int, float],
) -> tuple[Rehearsed, ...]:
    """Every single failure at every half metre of every haul.

    Parameters
    ----------
    shop : Workshop
        Plan and raise.
    hangs : tuple of HangCurve
        Loads of every haul.
    drill : Drill
        Times.
    mass_factors : mapping of int to float
        Mass to be reckoned with over the mass reckoned, by index of the passage.

    Returns
    -------
    rehearsed : tuple of Rehearsed
        In the order of the raise; at each height rope, corner, pawl, crew and jam.

    Notes
    -----
    A rope or a corner goes all at once: what hangs free swings about its new rest in all
    its modes, what shoes hold upright sinks and leans between them. A pawl that breaks lets
    the capstan run to its next stop, one pitch on. A crew that leaves changes no load. A
    jam loads the ropes until the crews stop, at a quarter more than is expected.
    """
    curves = {curve.passage: curve for curve in hangs}
    found: list[Rehearsed] = []
    for ways in ways_of(shop, drill):
        for passage in ways.passages:
            curve = curves.get(passage.index)
            if curve is not None:
                lines = _lines(shop, passage, curve, mass_factors[passage.index])
                found += _rehearsed(lines, ways, drill)
    return tuple(found)


def _lines(shop: Workshop, passage: Passage, curve: HangCurve, mass_factor: float) -> _Lines:
    lift = plan_lift(shop.plan, curve.lift)
    pattern = next(each for each in shop.plan.tackles if each.name == lift.pattern)
    path = rope_path(lift, pattern, mass_factor)
    n = max(1, int(np.ceil(abs(passage.travel) / STEP - 1e-9)))
    rows = np.unique(np.linspace(0, len(curve.heels) - 1, n + 1).round().astype(np.int64))
    return _Lines(
        shop=shop,
        lift=lift,
        passage=passage,
        curve=curve,
        rows=rows,
        over=path.over,
        fall=path.fall,
    )


def _rehearsed(lines: _Lines, ways: Ways, drill: Drill) -> Iterator[Rehearsed]:
    effects = {
        "rope": _rope(lines),
        "corner": _corner(lines),
        "pawl": _pawl(lines),
        "capstan crew": _crew(lines),
        "jam": _jam(lines),
    }
    for place, row in enumerate(lines.rows.tolist()):
        heel = float(lines.curve.heels[row])
        for failure, (loads, names) in effects.items():
            yield _told(
                lines,
                ways,
                drill,
                _Effect(
                    failure=failure,  # type: ignore[arg-type]
                    heel=heel,
                    loads=loads[place],
                    names=names,
                ),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Effect:
    """One failure at one height: loads of the tackles (cases, n), by what fails."""

    failure: Failure
    heel: float
    loads: Floats
    names: tuple[str, ...]


# Loads of the tackles: (rows, cases, n), and what fails in each case.
_Loads = tuple[Floats, tuple[str, ...]]


def _holding(lines: _Lines) -> Guiding | None:
    """Shoes that hold it upright, or None."""
    if not lines.lift.guided:
        return None
    guides = guiding(lines.shop, lines.passage, lines.curve.heels)
    return guides if guides.holds else None


def _rope(lines: _Lines) -> _Loads:
    """Peak on every tackle after the loss of whichever other hurts it most."""
    guides = _holding(lines)
    if guides is not None:
        peak = guided_sudden_loads(lines.shop, lines.curve, guides)[lines.rows]
    else:
        peak = sudden_loads(lines.shop, lines.curve)[lines.rows]
    worst = lines.curve.lost_line[lines.rows]
    name = lines.curve.lines[int(np.bincount(worst).argmax())]
    return peak[:, None, :], (f"tackle {name}, or any other",)


def _corners(lift: Lift) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line.lift_point for line in lift.lines))


def _corner(lines: _Lines) -> _Loads:
    """Peak on every tackle after all those of one lift point are lost."""
    points = _corners(lines.lift)
    at = np.array([points.index(line.lift_point) for line in lines.lift.lines])
    k, n = lines.tensions.shape
    if _holding(lines) is not None:
        # Kept upright by its shoes, its neighbours take half the weight each.
        shared = np.bincount(at)[at]
        half = lines.curve.weight[lines.rows][:, None, None] / 2 / shared
        loads = np.where(
            np.arange(len(points))[:, None] == at[None], 0.0, np.broadcast_to(half, (k, 1, n))
        )
        return loads, tuple(f"corner {point}" for point in points)
    lost = np.arange(len(points))[:, None] == at[None]
    if len(points) < 2:
        return np.full((k, len(points), n), np.inf), tuple(f"corner {p}" for p in points)
    peak = loads_after_loss(lines.shop, lines.curve, lines.rows, lost)
    return peak, tuple(f"corner {point}" for point in points)


def _pawl(lines: _Lines) -> _Loads:
    """Peak on a tackle whose capstan runs one pawl on; all is lost with its only stop."""
    plan = lines.shop.plan
    capstans = line_capstans(plan, lines.lift)
    pattern = next(each for each in plan.tackles if each.name == lines.lift.pattern)
    drop = np.array([pawl_drop(plan, line, pattern.parts) for line in lines.lift.lines])
    single = [each.mark for each in capstans if (each.pawls or 0) < 2]
    if single:
        peak, _ = _rope(lines)
        return peak, (f"the only stop of capstan {single[0]}",)
    peak = lines.tensions * snatched(lines.stretch * lines.over, drop)
    return peak[:, None, :], ("a pawl of any capstan",)


def _crew(lines: _Lines) -> _Loads:
    return lines.tensions[:, None, :], ("the crew of any capstan",)


def _jam(lines: _Lines) -> _Loads:
    return (STOP_PULL * lines.tensions)[:, None, :], ("a shoe or a corner caught",)


_WHO: dict[Failure, tuple[str, str]] = {
    "rope": (
        "capstan captains hold; riggers of the section hang the spare",
        "pawls down on every capstan, stoppers on; spare tackle on, level, then move",
    ),
    "corner": (
        "capstan captains hold; riggers of the section hang two spares",
        "pawls down, stoppers on, nobody near the section; two spare tackles on, then move",
    ),
    "pawl": (
        "captain and tailer of that capstan; the others hold",
        "second stop holds; stoppers on that fall, pawl made good, bars pinned",
    ),
    "capstan crew": (
        "captain of that capstan, reserve hands",
        "every capstan on its pawls, reserve to the bars, count aloud, level, go on",
    ),
    "jam": (
        "person in charge; lock watch frees it from fixed staging",
        "stop, pawls down, stoppers on; never ease below 80 % of the weight; free, then move",
    ),
}


def _told(lines: _Lines, ways: Ways, drill: Drill, effect: _Effect) -> Rehearsed:
    factors = lines.factors(effect.loads)
    worst = int(factors.argmin())
    loads = effect.loads[worst]
    stands = bool(np.all(np.isfinite(loads)))
    heel = effect.heel
    index = lines.passage.index
    back, on = ways.time_back(heel, index), ways.time_on(heel, index)
    nearest = min(back, on)
    fix = {
        "rope": drill.spare,
        "corner": 2 * drill.spare,
        "pawl": drill.stoppers,
        "capstan crew": drill.relief,
        "jam": drill.jam,
    }[effect.failure]
    safe, minutes = "none", float("inf")
    if stands and np.isfinite(nearest):
        goes_back = back <= on
        place = ways.back if goes_back else ways.on
        if place is not None:
            way = "back to" if goes_back else "on to"
            safe = f"{way} the {place.carrier} at {place.heel:.2f} m"
            minutes = (fix + nearest) / 60
    who, do = _WHO[effect.failure]
    return Rehearsed(
        failure=effect.failure,
        what=effect.names[min(worst, len(effect.names) - 1)],
        section=ways.section,
        stage=ways.stage,
        lift=ways.lift,
        heel=heel,
        load=float(loads.max()) * lines.over if stands else float("inf"),
        factor=float(factors[worst]) if stands else 0.0,
        stands=stands,
        safe=safe,
        minutes=minutes,
        who=who,
        do=do,
    )


def worst_of(rehearsed: tuple[Rehearsed, ...], stage: str, section: str) -> Rehearsed | None:
    """The failure to print on a stage card: what does not stand, then the least factor.

    Parameters
    ----------
    rehearsed : tuple of Rehearsed
        Of the raise.
    stage, section : str
        Which haul.

    Returns
    -------
    worst : Rehearsed or None
        None where nothing is hauled then.
    """
    own = [each for each in rehearsed if (each.stage, each.section) == (stage, section)]
    return min(own, key=lambda each: (each.stands, each.factor, -each.minutes), default=None)
