"""Space frames of straight bars: displacements and end forces by direct stiffness.

Bars are Euler-Bernoulli beams with Saint-Venant torsion; an end may be hinged in both
planes of bending. Loads act at nodes. Every load case is solved with one factorisation.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix
from scipy.sparse.linalg import splu

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# Places of the bending rotations among the twelve of a bar, by end.
_BENDING = ((4, 5), (10, 11))
# A frame that moves farther than this under its loads is a mechanism. [m]
MECHANISM = 10.0
BALANCED = 1e-5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """Nodes and bars.

    Attributes
    ----------
    nodes : (n, 3) float
        [m]
    bars : (m, 2) int
        Nodes at both ends of each bar.
    axes : (m, 3, 3) float
        Unit vectors of each bar as rows: along it, and two square to it and each other.
    area : (m,) float
        [m^2]
    inertia : (m, 2) float
        Second moments of area for bending toward the second and the third row of
        `axes`. [m^4]
    torsion : (m,) float
        [m^4]
    modulus, shear_modulus : (m,) float
        [Pa]
    hinged : (m, 2) bool
        Whether each end passes on no bending moment.
    """

    nodes: Floats
    bars: Ints
    axes: Floats
    area: Floats
    inertia: Floats
    torsion: Floats
    modulus: Floats
    shear_modulus: Floats
    hinged: Flags

    def __post_init__(self) -> None:
        m = len(self.bars)
        shapes = {
            "axes": (m, 3, 3), "area": (m,), "inertia": (m, 2), "torsion": (m,),
            "modulus": (m,), "shear_modulus": (m,), "hinged": (m, 2),
        }  # fmt: skip
        for name, shape in shapes.items():
            if getattr(self, name).shape != shape:
                raise ValueError(
                    f"{name} must be {shape}, got {getattr(self, name).shape} for {m} bars"
                )
        if not np.all(self.lengths > 0):
            raise ValueError("every bar must have a length")
        for name in ("area", "inertia", "torsion", "modulus", "shear_modulus"):
            if not np.all(getattr(self, name) > 0):
                raise ValueError(f"{name} must be positive for every bar")

    @property
    def lengths(self) -> Floats:
        """Length of each bar, (m,). [m]"""
        span = self.nodes[self.bars[:, 1]] - self.nodes[self.bars[:, 0]]
        return np.asarray(np.linalg.norm(span, axis=1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Held:
    """What holds the nodes of a frame.

    Attributes
    ----------
    fixed : (n, 6) bool
        Displacements and rotations that are nil.
    springs : (n, 6) float
        Stiffness against each of them. [N/m], [N m/rad]
    """

    fixed: Flags
    springs: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrameForces:
    """What loads do to a frame.

    Attributes
    ----------
    moves : (c, n, 6) float
        Displacements and rotations of the nodes by case. [m], [rad]
    ends : (c, m, 2, 6) float
        Forces and moments on both ends of each bar in its own axes: along, toward the
        second and third axis, torsion, bending about the second and the third
        axis. [N], [N m]
    """

    moves: Floats
    ends: Floats

    @property
    def axial(self) -> Floats:
        """Pull along each bar, (c, m): tension positive. [N]"""
        return np.asarray(self.ends[:, :, 1, 0])


def bar_stiffness(frame: Frame) -> Floats:
    """Stiffness of every bar in its own axes, hinges taken out.

    Parameters
    ----------
    frame : Frame
        Bars.

    Returns
    -------
    stiffness : (m, 12, 12) float
        In the order: three displacements and three rotations of the first end, then of
        the second. [N/m], [N], [N m]
    """
    length, modulus = frame.lengths, frame.modulus
    stiff = np.zeros((len(frame.bars), 12, 12))
    _couple(stiff, (0, 6), modulus * frame.area / length)
    _couple(stiff, (3, 9), frame.shear_modulus * frame.torsion / length)
    # Bending toward axis 2 turns about axis 3, toward axis 3 about axis 2, sign reversed.
    for toward, about, sign, k in ((1, 5, 1.0, 0), (2, 4, -1.0, 1)):
        flexural = modulus * frame.inertia[:, k]
        a, b = 12 * flexural / length**3, sign * 6 * flexural / length**2
        c, d = 4 * flexural / length, 2 * flexural / length
        _couple(stiff, (toward, toward + 6), a)
        for i in (about, about + 6):
            stiff[:, toward, i] = stiff[:, i, toward] = b
            stiff[:, toward + 6, i] = stiff[:, i, toward + 6] = -b
        stiff[:, about, about] = stiff[:, about + 6, about + 6] = c
        stiff[:, about, about + 6] = stiff[:, about + 6, about] = d
    return _released(stiff, frame.hinged)


def _couple(stiff: Floats, at: tuple[int, int], value: Floats) -> None:
    i, j = at
    stiff[:, i, i] = stiff[:, j, j] = value
    stiff[:, i, j] = stiff[:, j, i] = -value


def _released(stiff: Floats, hinged: Flags) -> Floats:
    """Rotations of hinged ends condensed out, bar by bar of one kind at a time."""
    for first, second in ((True, False), (False, True), (True, True)):
        rows = np.flatnonzero((hinged[:, 0] == first) & (hinged[:, 1] == second))
        if not len(rows):
            continue
        out = [*(_BENDING[0] if first else ()), *(_BENDING[1] if second else ())]
        kept = [k for k in range(12) if k not in out]
        block = stiff[rows]
        kk, ko = block[:, kept][:, :, kept], block[:, kept][:, :, out]
        oo = block[:, out][:, :, out]
        less = kk - ko @ np.linalg.solve(oo, np.swapaxes(ko, 1, 2))
        fresh = np.zeros_like(block)
        fresh[np.ix_(range(len(rows)), kept, kept)] = less
        stiff[rows] = fresh
    return stiff


def solve_frame(frame: Frame, held: Held, loads: Floats) -> FrameForces:
    """Displacements and end forces of a frame in every load case.

    Parameters
    ----------
    frame : Frame
        Nodes and bars.
    held : Held
        Supports.
    loads : (c, n, 6) float
        Forces and moments on the nodes. [N], [N m]

    Returns
    -------
    forces : FrameForces
        Linear elastic, small displacements.

    Raises
    ------
    ValueError
        If the frame is a mechanism, or shapes do not match.
    """
    n, m = len(frame.nodes), len(frame.bars)
    if loads.ndim != 3 or loads.shape[1:] != (n, 6) or held.fixed.shape != (n, 6):
        raise ValueError(f"loads must be (c, {n}, 6) and supports ({n}, 6)")
    turn = np.zeros((m, 12, 12))
    for block in range(4):
        turn[:, 3 * block : 3 * block + 3, 3 * block : 3 * block + 3] = frame.axes
    stiff = bar_stiffness(frame)
    whole = np.swapaxes(turn, 1, 2) @ stiff @ turn
    dofs = (6 * frame.bars[:, :, None] + np.arange(6)).reshape(m, 12)
    matrix = _assembled(whole, dofs, held, 6 * n)
    free = np.flatnonzero(~held.fixed.reshape(-1))
    moves = np.zeros((len(loads), 6 * n))
    right = loads.reshape(len(loads), -1)[:, free].T
    inner = matrix[free][:, free].tocsc()
    try:
        factors = splu(inner)
    except RuntimeError:
        raise ValueError("the frame is a mechanism: a piece is loose") from None
    solution = factors.solve(np.ascontiguousarray(right))
    # Stiff bridges beside soft pieces: one round takes out what rounding left.
    solution = solution + factors.solve(right - inner @ solution)
    moves[:, free] = solution.T
    amiss = np.abs(inner @ solution - right).max(initial=0.0)
    if not (np.abs(solution).max(initial=0.0) < MECHANISM):
        raise ValueError("the frame is a mechanism: a piece is loose")
    if not amiss <= BALANCED * max(1.0, float(np.abs(right).max(initial=0.0))):
        raise ValueError(f"the frame does not balance, by {amiss:.3g} N")
    ends = np.einsum("mij,mjk,cmk->cmi", stiff, turn, moves[:, dofs])
    return FrameForces(
        moves=moves.reshape(len(loads), n, 6), ends=ends.reshape(len(loads), m, 2, 6)
    )


def _assembled(whole: Floats, dofs: Ints, held: Held, size: int) -> csc_matrix:
    rows = np.repeat(dofs[:, :, None], 12, axis=2).reshape(-1)
    columns = np.repeat(dofs[:, None, :], 12, axis=1).reshape(-1)
    springs = held.springs.reshape(-1)
    every = np.arange(size)
    return coo_matrix(
        (
            np.concatenate([whole.reshape(-1), springs]),
            (np.concatenate([rows, every]), np.concatenate([columns, every])),
        ),
        shape=(size, size),
    ).tocsc()


def torsion_constant(breadth: Floats, depth: Floats) -> Floats:
    r"""Saint-Venant torsion constant of rectangles.

    Parameters
    ----------
    breadth, depth : (m,) float
        Sides. [m]

    Returns
    -------
    constant : (m,) float
        :math:`a b^3 (1/3 - 0.21 (b/a)(1 - b^4 / 12 a^4))` with b the shorter side,
        within 4 parts in a thousand of the series. [m^4]
    """
    long, short = np.maximum(breadth, depth), np.minimum(breadth, depth)
    ratio = short / long
    return np.asarray(long * short**3 * (1 / 3 - 0.21 * ratio * (1 - ratio**4 / 12)))


def buckling_factor(slenderness: Floats, compression: Floats, modulus_low: Floats) -> Floats:
    r"""Share of its strength that a slender piece of timber keeps in compression.

    Parameters
    ----------
    slenderness : (m,) float
        Buckling length over radius of gyration.
    compression, modulus_low : (m,) float
        Characteristic strength along the grain and modulus of elasticity. [Pa]

    Returns
    -------
    factor : (m,) float
        :math:`1 / (k + \sqrt{k^2 - \lambda_{rel}^2})` with
        :math:`k = 0.5 (1 + 0.2 (\lambda_{rel} - 0.3) + \lambda_{rel}^2)`; one where
        :math:`\lambda_{rel} \le 0.3`: EN 1995-1-1, 6.3.2, solid timber.
    """
    relative = slenderness / np.pi * np.sqrt(compression / modulus_low)
    k = 0.5 * (1 + 0.2 * (relative - 0.3) + relative**2)
    factor = 1 / (k + np.sqrt(np.maximum(k**2 - relative**2, 0.0)))
    return np.asarray(np.where(relative <= 0.3, 1.0, np.minimum(factor, 1.0)))
