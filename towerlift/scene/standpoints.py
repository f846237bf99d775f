"""Where a picture is taken from: always in parallel, so that it can be measured."""

from dataclasses import dataclass
from math import atan2, cos, pi, sin

import numpy as np

from towerlift.motion.passages import Floats, Passage
from towerlift.scene.bodies import Scene

# Turned a little off square, so that two walls are seen and heights stay true.
USUAL_AZIMUTH = 0.87 * pi
USUAL_SIZE = (300, 460)

_POINTS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standpoint:
    """A parallel view of the shaft.

    Attributes
    ----------
    focus : tuple of float
        What is in the middle of the picture, shaft frame. [m]
    span : float
        Height of the picture. [m]
    azimuth : float
        Direction of the viewer from the focus, clockwise from north. [rad]
    rise : float
        How far the viewer is above the level of the focus. [rad]
    cut : float or None
        How far in front of the focus everything is cut away; None shows all. [m]
    """

    focus: tuple[float, float, float]
    span: float
    azimuth: float = USUAL_AZIMUTH
    rise: float = 0.0
    cut: float | None = None

    def __post_init__(self) -> None:
        if not self.span > 0:
            raise ValueError(f"span must be positive, got {self.span} m")
        if not abs(self.rise) <= pi / 2:
            raise ValueError(f"rise must be within a right angle, got {self.rise} rad")

    @property
    def towards_viewer(self) -> Floats:
        """Unit vector from the focus to the viewer, shaft frame."""
        level = cos(self.rise)
        return np.array([level * sin(self.azimuth), level * cos(self.azimuth), sin(self.rise)])

    @property
    def right(self) -> Floats:
        """Unit vector that points right in the picture, shaft frame."""
        return np.array([-cos(self.azimuth), sin(self.azimuth), 0.0])

    @property
    def upward(self) -> Floats:
        """Unit vector that points up in the picture, shaft frame."""
        return np.cross(self.towards_viewer, self.right)

    @property
    def looking(self) -> str:
        """Direction of sight in words, such as "north-west"."""
        return _POINTS[round((self.azimuth + pi) / (pi / 4)) % 8]

    def pixels(self, points: Floats, size: tuple[int, int]) -> Floats:
        """Where points come to lie in a picture.

        Parameters
        ----------
        points : (n, 3) float
            Shaft frame. [m]
        size : tuple of int
            Width and height of the picture. [pixels]

        Returns
        -------
        pixels : (n, 2) float
            To the right and down from the upper left corner. [pixels]
        """
        width, height = size
        away = np.atleast_2d(points) - np.array(self.focus)
        scale = height / self.span
        return np.column_stack(
            [width / 2 + scale * (away @ self.right), height / 2 - scale * (away @ self.upward)]
        )


def whole_tower(scene: Scene, size: tuple[int, int] = USUAL_SIZE) -> Standpoint:
    """View of the shaft and everything that rises out of it, heights true.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    size : tuple of int
        Width and height of the picture it must fit. [pixels]

    Returns
    -------
    standpoint : Standpoint
        From the south-east, level.
    """
    middle = (scene.low + scene.high) / 2
    extent = scene.high - scene.low
    across = 1.7 * float(np.hypot(extent[0], extent[1])) * size[1] / size[0]
    span = max(1.10 * float(extent[2]), min(across, 2.0 * float(extent[2])))
    return Standpoint(focus=_triple(middle), span=span)


def whole_site(scene: Scene, size: tuple[int, int] = (960, 540)) -> Standpoint:
    """View of the tower with the ground round about it, from a little above.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    size : tuple of int
        Width and height of the picture it must fit. [pixels]

    Returns
    -------
    standpoint : Standpoint
        From the south-east, looking down by a tenth of a right angle and a half.
    """
    rise = 0.24
    low, high = float(scene.low[2]), float(scene.high[2])
    level = whole_tower(scene, size)
    # Seen from above, the ground before the tower comes below its foot.
    before = 18.0 * sin(rise)
    span = 1.06 * (cos(rise) * (high - low) + 2 * before)
    middle = (level.focus[0], level.focus[1], (low + high) / 2)
    return Standpoint(focus=middle, span=span, rise=rise)


def on_section(scene: Scene, passage: Passage, share: float) -> Standpoint:
    """View of the section that moves, or of the last one to be worked on.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    passage : Passage
        Where the raise is.
    share : float
        Share of its travel that is done.

    Returns
    -------
    standpoint : Standpoint
        From the south-east, a little from above.
    """
    names = [name for name in (*passage.moving, passage.subject) if name in passage.standing]
    if not names:
        return whole_tower(scene)
    heel, length = passage.heel(names[0], share), scene.lengths[names[0]]
    line = scene.raise_.plumb_line
    return Standpoint(focus=(line.x, line.y, heel + length / 2), span=1.35 * length, rise=0.16)


def close_up(place: Floats, along: Floats | None = None, *, span: float = 1.6) -> Standpoint:
    """View of one place, cut open in front of it.

    Parameters
    ----------
    place : (3,) float
        Shaft frame. [m]
    along : (3,) float or None
        Direction of a gap there; the view is taken nearly square to it. [m]
    span : float
        Height of the picture. [m]

    Returns
    -------
    standpoint : Standpoint
        Square to the gap but for a turn that lets the wall behind it be seen.
    """
    level = np.zeros(2) if along is None else np.asarray(along)[:2]
    if not np.hypot(*level) > 1e-9:
        # No level direction: look at the place from the axis, outward.
        level = np.asarray(place)[:2]
    if not np.hypot(*level) > 1e-9:
        return Standpoint(focus=_triple(place), span=span, rise=0.2, cut=0.5)
    outward = atan2(level[0], level[1])
    return Standpoint(
        focus=_triple(place),
        span=span,
        azimuth=outward + pi / 2 + 0.45,
        rise=0.22,
        cut=0.05,
    )


def from_above(scene: Scene, height: float) -> Standpoint:
    """Plan of the shaft at a height, what is above it cut away, north up.

    Parameters
    ----------
    scene : Scene
        What is drawn.
    height : float
        Level that is cut, shaft frame. [m]

    Returns
    -------
    standpoint : Standpoint
        Looking straight down.
    """
    middle = (scene.low + scene.high) / 2
    span = 1.25 * float(max(scene.high[:2] - scene.low[:2]))
    focus = (float(middle[0]), float(middle[1]), height)
    return Standpoint(focus=focus, span=span, azimuth=pi, rise=pi / 2, cut=0.0)


def _triple(place: Floats) -> tuple[float, float, float]:
    return float(place[0]), float(place[1]), float(place[2])
