"""A section on the framer's bench: every what-if about its gaps to the masonry, at once."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import hypot

import numpy as np

from towerlift.nesting.asbuilt import as_built_reach
from towerlift.nesting.budget import FreeHangCurve
from towerlift.nesting.curves import Floats
from towerlift.nesting.faces import (
    Allowances,
    FaceGaps,
    Meetings,
    Travel,
    drawn_places,
    face_gaps,
    meetings,
)
from towerlift.nesting.movement import (
    FACES,
    SectionGrowth,
    WidthChain,
    section_growth,
    width_chain,
)
from towerlift.nesting.pairs import Workshop
from towerlift.nesting.reaches import Reach, Walls, section_reach, shaft_edges, surveyed_walls
from towerlift.nesting.tolerance import Part, Spread, Stack
from towerlift.nesting.travels import section_travels
from towerlift.plan.bodies import Face, PlumbLine, Section
from towerlift.plan.model import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Pared:
    """Wood taken off one side of a piece.

    Attributes
    ----------
    mark : str
        Which piece.
    face : Face
        Which side.
    depth : float
        How much comes off its farthest reach. [m]
    """

    mark: str
    face: Face
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a framer may turn on the bench; the plan itself is untouched.

    Attributes
    ----------
    moisture : float or None
        Change of moisture content of all wood, share of the oven-dry mass; None takes
        the swelling that the plan states.
    out_of_square, drift : float
        Loss on every face by a frame out of square, and by hanging off the line. [m]
    x, y : float or None
        Where the axis hangs, None as planned. [m]
    quarter_turns : int
        Turns of the section by 90 degrees, anticlockwise from above.
    pared : tuple of Pared
        Pieces pared.
    play : float or None
        Play to which the runners are packed, None as planned. [m]
    """

    moisture: float | None = None
    out_of_square: float = 0.0
    drift: float = 0.0
    x: float | None = None
    y: float | None = None
    quarter_turns: int = 0
    pared: tuple[Pared, ...] = ()
    play: float | None = None

    def __post_init__(self) -> None:
        for name in ("out_of_square", "drift"):
            value = getattr(self, name)
            if not (value >= 0 and np.isfinite(value)):
                raise ValueError(f"{name} must be finite and not negative, got {value} m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A section, the shaft it passes and all its travel, ready to be asked.

    Attributes
    ----------
    plan : Plan
        As written.
    section : Section
        Which of its sections.
    walls : Walls
        The shaft as surveyed.
    drawn, built : Reach
        Reach as drawn and as put together in the yard, turned as planned.
    travels : tuple of Travel
        When it moves.
    running : float
        Running clearance to be left. [m]
    chain : WidthChain or None
        What makes it as wide as it is; None where no wood is drawn.
    shelf, met_shelf : dict
        Growths and meetings worked out so far.
    """

    plan: Plan
    section: Section
    walls: Walls
    drawn: Reach
    built: Reach
    travels: tuple[Travel, ...]
    running: float
    chain: WidthChain | None
    shelf: dict[float, SectionGrowth] = field(default_factory=dict)
    met_shelf: dict[float | None, Meetings] = field(default_factory=dict)

    @property
    def unknown(self) -> str:
        """Why some play, tilt or sway is not known; empty where all is."""
        reasons = dict.fromkeys(f"{t.stage}: {t.unknown}" for t in self.travels if t.unknown)
        return "; ".join(reasons)

    def line(self, setting: Setting) -> PlumbLine:
        """Where the axis hangs.

        Parameters
        ----------
        setting : Setting
            What is turned.

        Returns
        -------
        line : PlumbLine
            The plan's where the setting says nothing.
        """
        planned = self.plan.plumb_line
        moved = {
            "x": planned.x if setting.x is None else setting.x,
            "y": planned.y if setting.y is None else setting.y,
        }
        return planned.model_copy(update=moved)

    def growth(self, change: float) -> SectionGrowth:
        """Growth of the section for a change of moisture.

        Parameters
        ----------
        change : float
            Of all wood, share of the oven-dry mass.

        Returns
        -------
        growth : SectionGrowth
            Worked out once for each change.
        """
        if change not in self.shelf:
            self.shelf[change] = section_growth(
                self.plan, self.section, change=change, chain=self.chain
            )
        return self.shelf[change]

    def swelling(self, setting: Setting) -> Floats:
        """Growth of each side, north, east, south and west. [m]

        Parameters
        ----------
        setting : Setting
            What is turned.

        Returns
        -------
        swelling : (4,) float
            The plan's figure on each side where the setting gives no moisture, or
            where the movement of some wood is not known.
        """
        if setting.moisture is None or self.growth(setting.moisture).missing:
            return np.full(4, self.section.swelling)
        sides = np.array([self.growth(setting.moisture).sides[face] for face in FACES])
        return np.roll(sides, -setting.quarter_turns)

    def allowances(self, setting: Setting) -> Allowances:
        """Parts of the budget besides play, tilt and sway.

        Parameters
        ----------
        setting : Setting
            What is turned.

        Returns
        -------
        allowances : Allowances
            For `face_gaps`.
        """
        spread = hypot(self.section.fabrication, self.plan.shaft.uncertainty)
        return Allowances(
            swelling=self.swelling(setting),
            spread=spread,
            extra=setting.out_of_square + setting.drift,
        )

    def reach(self, setting: Setting, *, as_drawn: bool = False) -> Reach:
        """Reach of the section, pared and turned.

        Parameters
        ----------
        setting : Setting
            What is turned.
        as_drawn : bool
            Whether to leave the trial assembly out.

        Returns
        -------
        reach : Reach
            Towards the faces of the shaft.
        """
        reach = self.drawn if as_drawn else self.built
        if setting.pared:
            cut = reach.reach.copy()
            for each in setting.pared:
                row, k = reach.marks.index(each.mark), FACES.index(each.face)
                top = cut[row, :, k].max()
                cut[row, :, k] = np.minimum(cut[row, :, k], top - each.depth)
            reach = replace(reach, reach=cut)
        if setting.quarter_turns % 4:
            # Turned once anticlockwise, what looked east looks north.
            turned = np.roll(reach.reach, -(setting.quarter_turns % 4), axis=2)
            reach = replace(reach, reach=turned)
        return reach

    def moving(self, setting: Setting) -> tuple[Travel, ...]:
        """Travel with the runners packed as the setting says.

        Parameters
        ----------
        setting : Setting
            What is turned.

        Returns
        -------
        travels : tuple of Travel
            Tilt on shoes shrinks with their play.
        """
        if setting.play is None:
            return self.travels
        return tuple(_packed(travel, setting.play) for travel in self.travels)

    def met(self, setting: Setting) -> Meetings:
        """Where the section passes, worked out once for each packing.

        Parameters
        ----------
        setting : Setting
            What is turned.

        Returns
        -------
        met : Meetings
            Bands of the section against bands of the shaft.
        """
        key = None if setting.play is None else round(setting.play, 6)
        if key not in self.met_shelf:
            edges = shaft_edges(self.walls)
            travels = self.moving(setting)
            self.met_shelf[key] = meetings(edges, self.drawn.edges, travels, self.running)
        return self.met_shelf[key]

    def gaps(self, setting: Setting, *, as_drawn: bool = False) -> FaceGaps:
        """Least to spare at every height of the shaft.

        Parameters
        ----------
        setting : Setting
            What is turned.
        as_drawn : bool
            Whether to leave the trial assembly out.

        Returns
        -------
        gaps : FaceGaps
            Over all travel.
        """
        return face_gaps(
            self.walls,
            self.reach(setting, as_drawn=as_drawn),
            self.met(setting),
            self.line(setting),
            self.allowances(setting),
        )

    def stack(self, setting: Setting, face: Face) -> Stack | None:
        """Everything that decides the least gap on one face.

        Parameters
        ----------
        setting : Setting
            What is turned.
        face : Face
            Which face of the shaft.

        Returns
        -------
        stack : Stack or None
            None where nothing comes by on that face.
        """
        places = drawn_places(
            self.walls, self.reach(setting), self.met(setting), self.line(setting)
        )
        gaps, shifts = places[FACES.index(face)]
        if not len(gaps):
            return None
        play = max((float(travel.play.max()) for travel in self.moving(setting)), default=0.0)
        swelling = float(self.swelling(setting)[FACES.index(face)])
        extra = setting.out_of_square + setting.drift
        parts = [
            Part(name="swelling", size=swelling, spread=Spread.ONE_WAY),
            Part(
                name="fabrication",
                size=self.section.fabrication,
                spread=Spread.NORMAL,
                independent=True,
            ),
            Part(
                name="survey",
                size=self.plan.shaft.uncertainty,
                spread=Spread.NORMAL,
                independent=True,
            ),
            Part(name="play of the shoes", size=play, spread=Spread.EVEN),
        ]
        if extra > 0:
            parts.append(
                Part(name="out of square and drift", size=extra, spread=Spread.ONE_WAY)
            )
        return Stack(gaps=gaps, shifts=shifts, parts=tuple(parts))


def _packed(travel: Travel, play: float) -> Travel:
    guided = travel.play > 0
    ratio = np.where(guided, np.minimum(play / np.where(guided, travel.play, 1.0), 1.0), 1.0)
    return replace(travel, play=travel.play * ratio, shift=travel.shift * ratio[:, None])


def build_bench(
    shop: Workshop, section: str, *, running: float, free: Mapping[int, FreeHangCurve]
) -> Bench | None:
    """Put a section on the bench.

    Parameters
    ----------
    shop : Workshop
        Plan, shapes and raise.
    section : str
        Which section.
    running : float
        Running clearance to be left. [m]
    free : mapping of int to FreeHangCurve
        How sections on free lines hang, by passage.

    Returns
    -------
    bench : Bench or None
        None where the shaft was not surveyed face by face, or the section never moves.

    Notes
    -----
    The section is taken with everything that is ever fitted to it while it moves.
    """
    walls = surveyed_walls(shop.plan.shaft)
    passages = [p for p in shop.raise_.moving_passages if section in p.moving]
    if walls is None or not passages:
        return None
    fitted = frozenset().union(*(p.fitted for p in passages))
    body = next(s for s in shop.plan.sections if s.name == section)
    drawn = section_reach(shop.assembly(section, fitted), shop.plan.plumb_line.turn)
    return Bench(
        plan=shop.plan,
        section=body,
        walls=walls,
        drawn=drawn,
        built=as_built_reach(body, drawn),
        travels=section_travels(shop, section, drawn.edges, running=running, free=free),
        running=running,
        chain=width_chain(shop.plan, body),
    )
