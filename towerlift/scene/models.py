"""Simple shapes of what the plan only names: people, capstans, marks on the ground."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from towerlift.scene.colours import Rgb

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Corner = tuple[float, float, float]

_SQUARE = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2.0
SKIN: Rgb = (196, 158, 128)
LIMBS: Rgb = (74, 78, 88)
TIMBER: Rgb = (146, 112, 72)
BARREL: Rgb = (112, 88, 62)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """Triangles with a colour each.

    Attributes
    ----------
    vertices : (n, 3) float
        [m]
    faces : (m, 3) int
        Corner numbers, anticlockwise from outside.
    colours : (m, 3) uint8
        Red, green, blue.
    """

    vertices: Floats
    faces: Ints
    colours: NDArray[np.uint8]

    def placed(self, x: float, y: float, z: float, *, turn: float = 0.0) -> "Model":
        """The same shape elsewhere.

        Parameters
        ----------
        x, y, z : float
            Where its origin goes. [m]
        turn : float
            About the vertical first, anticlockwise from above. [rad]

        Returns
        -------
        model : Model
            Same triangles.
        """
        c, s = cos(turn), sin(turn)
        turned = self.vertices @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        return Model(
            vertices=turned + np.array([x, y, z]), faces=self.faces, colours=self.colours
        )


def joined(models: Iterable[Model]) -> Model:
    """Several shapes as one.

    Parameters
    ----------
    models : iterable of Model
        One at least.

    Returns
    -------
    model : Model
        All their triangles, in order.
    """
    every = list(models)
    starts = np.cumsum([0, *(len(model.vertices) for model in every)])
    return Model(
        vertices=np.concatenate([model.vertices for model in every]),
        faces=np.concatenate(
            [model.faces + start for model, start in zip(every, starts, strict=False)]
        ),
        colours=np.concatenate([model.colours for model in every]),
    )


def prism(foot: Floats, head: Floats, colour: Rgb) -> Model:
    """A solid between two rings of as many corners, closed at both ends.

    Parameters
    ----------
    foot, head : (n, 3) float
        Corners, anticlockwise as seen from the head. [m]
    colour : tuple of int
        Red, green, blue.

    Returns
    -------
    model : Model
        Sides and both ends.
    """
    n = len(foot)
    k, after = np.arange(n), np.roll(np.arange(n), -1)
    sides = np.concatenate(
        [np.column_stack([k, after, after + n]), np.column_stack([k, after + n, k + n])]
    )
    fan = np.column_stack([np.zeros(n - 2, dtype=int), k[1:-1], k[2:]])
    faces = np.concatenate([sides, fan[:, ::-1], fan + n])
    return Model(
        vertices=np.concatenate([foot, head]).astype(float),
        faces=faces,
        colours=np.tile(np.array(colour, dtype=np.uint8), (len(faces), 1)),
    )


def box(
    low: tuple[float, float, float], high: tuple[float, float, float], colour: Rgb
) -> Model:
    """An upright box.

    Parameters
    ----------
    low, high : tuple of float
        Two corners. [m]
    colour : tuple of int
        Red, green, blue.

    Returns
    -------
    model : Model
        Twelve triangles.
    """
    (a, b, c), (d, e, f) = low, high
    ring = np.array([[a, b], [d, b], [d, e], [a, e]])
    return prism(
        np.column_stack([ring, np.full(4, c)]), np.column_stack([ring, np.full(4, f)]), colour
    )


def drum(radius: float, low: float, high: float, colour: Rgb, *, sides: int = 16) -> Model:
    """An upright round drum about the origin.

    Parameters
    ----------
    radius : float
        [m]
    low, high : float
        Heights of its ends. [m]
    colour : tuple of int
        Red, green, blue.
    sides : int
        How many flats it is drawn with.

    Returns
    -------
    model : Model
        A prism.
    """
    angles = 2 * pi * np.arange(sides) / sides
    ring = radius * np.column_stack([np.cos(angles), np.sin(angles)])
    return prism(
        np.column_stack([ring, np.full(sides, low)]),
        np.column_stack([ring, np.full(sides, high)]),
        colour,
    )


def figure(clothes: Rgb, *, leaning: float = 0.0) -> Model:
    """A person 1.75 m tall who faces the way of y.

    Parameters
    ----------
    clothes : tuple of int
        Colour of the upper body.
    leaning : float
        How far the shoulders are before the hips. [m]

    Returns
    -------
    model : Model
        Stands on the origin.
    """

    def tapered(at: tuple[float, float, float, float], sizes: Floats, colour: Rgb) -> Model:
        back, low, front, high = at
        foot = np.column_stack([_SQUARE * sizes[0] + [0.0, back], np.full(4, low)])
        head = np.column_stack([_SQUARE * sizes[1] + [0.0, front], np.full(4, high)])
        return prism(foot, head, colour)

    legs = [
        tapered((side * 0.0, 0.0, 0.0, 0.86), np.array([[0.13, 0.16], [0.16, 0.2]]), LIMBS)
        .placed(side * 0.1, -0.35 * leaning if side < 0 else 0.2 * leaning, 0.0)
        for side in (-1, 1)
    ]  # fmt: skip
    torso = tapered((0.0, 0.84, leaning, 1.46), np.array([[0.34, 0.22], [0.44, 0.24]]), clothes)
    arms = [
        tapered((0.0, 0.86, 0.0, 1.42), np.array([[0.09, 0.1], [0.11, 0.12]]), clothes)
        .placed(side * 0.275, leaning + 0.05, 0.0)
        for side in (-1, 1)
    ]  # fmt: skip
    head = drum(0.1, 1.5, 1.75, SKIN, sides=8).placed(0.0, 1.1 * leaning, 0.0)
    return joined([*legs, torso, *arms, head])


def capstan(barrel_radius: float, reach: float, n_bars: int, barrel_height: float) -> Model:
    """A capstan on its bed, bars level, about the origin at its foot.

    Parameters
    ----------
    barrel_radius, reach : float
        Radius of the barrel, and of the bars' ends. [m]
    n_bars : int
        How many bars.
    barrel_height : float
        Height of the turns above its foot. [m]

    Returns
    -------
    model : Model
        Barrel, head and bars.
    """
    bars_at = barrel_height + 0.45
    parts = [
        drum(1.25 * barrel_radius, barrel_height - 0.34, barrel_height - 0.26, TIMBER),
        drum(barrel_radius, barrel_height - 0.26, barrel_height + 0.3, BARREL),
        drum(1.7 * barrel_radius, barrel_height + 0.3, bars_at + 0.14, TIMBER),
    ]
    bar = box((0.0, -0.045, bars_at - 0.045), (reach, 0.045, bars_at + 0.045), TIMBER)
    parts += [bar.placed(0.0, 0.0, 0.0, turn=2 * pi * k / n_bars) for k in range(n_bars)]
    return joined(parts)
