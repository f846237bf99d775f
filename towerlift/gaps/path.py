"""The path of a moving body: rigid poses, and what happens between them."""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from towerlift.gaps.body import Body

Array = NDArray[np.float64]

RIGID_ATOL = 1e-9
# A turn of half a circle could go either way round; well before it the axis is
# lost to rounding.
MOST_TURN = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Poses of a moving body in the frame of the fixed one.

    Attributes
    ----------
    stations : (k,) float
        Rising parameter, such as the heel height; k is at least 2.
    poses : (k, 4, 4) float
        ``fixed_from_moving`` at each station, rigid. [m]

    Raises
    ------
    ValueError
        If a shape is wrong, a number is not finite, the stations do not rise,
        a pose is not rigid, or a step turns by more than 3 rad.

    Notes
    -----
    Between two stations the origin of the moving body's frame runs along the
    straight line from one to the other, evenly, while the body turns evenly
    about one axis, by the turn that leads from one pose to the other (less
    than half a circle). A point at distance r from the origin then leaves its
    own straight, even run by no more than r theta^2 / 8 for a turn of theta,
    since the difference vanishes at both ends and has a second derivative of at
    most r theta^2.
    """

    stations: Array
    poses: Array

    def __post_init__(self) -> None:
        stations = np.array(self.stations, dtype=np.float64)
        poses = np.array(self.poses, dtype=np.float64)
        if stations.ndim != 1 or len(stations) < 2:
            raise ValueError(f"stations must be (k,) with k at least 2, got {stations.shape}")
        if poses.shape != (len(stations), 4, 4):
            raise ValueError(f"poses must be ({len(stations)}, 4, 4), got {poses.shape}")
        rises = np.diff(stations) > 0
        if not (np.isfinite(stations).all() and rises.all()):
            row = int(np.argmin(rises))
            raise ValueError(
                f"stations must be finite and rise, got {stations[row : row + 2].tolist()} "
                f"at rows {row} and {row + 1}"
            )
        for row, pose in enumerate(poses):
            check_rigid(pose, f"poses[{row}]")
        _, turns = step_turns(poses[:, :3, :3])
        if not (turns <= MOST_TURN).all():
            row = int(np.argmax(turns))
            raise ValueError(
                f"a step may turn by at most {MOST_TURN} rad, got {turns[row]:.4f} rad from "
                f"station {row} to {row + 1}; add a station between them"
            )
        object.__setattr__(self, "stations", stations)
        object.__setattr__(self, "poses", poses)

    def pose_at(self, station: float) -> Array:
        """Pose at any parameter between the first and the last station.

        Parameters
        ----------
        station : float
            The parameter.

        Returns
        -------
        pose : (4, 4) float
            ``fixed_from_moving``. [m]

        Raises
        ------
        ValueError
            If `station` is not on the path.
        """
        if not self.stations[0] <= station <= self.stations[-1]:
            raise ValueError(
                f"station must be from {self.stations[0]} to {self.stations[-1]}, got {station}"
            )
        k = int(np.clip(np.searchsorted(self.stations, station) - 1, 0, len(self.stations) - 2))
        share = (station - self.stations[k]) / (self.stations[k + 1] - self.stations[k])
        pose: Array = between(self.poses[k], self.poses[k + 1], np.array([share]))[0]
        return pose


def check_rigid(pose: Array, name: str) -> None:
    """Refuse a pose that stretches, mirrors, or is not finite.

    Parameters
    ----------
    pose : (4, 4) float
        The pose. [m]
    name : str
        What to call it in the error.

    Raises
    ------
    ValueError
        If it is not a rigid pose to 1e-9.
    """
    if pose.shape != (4, 4) or not np.isfinite(pose).all():
        raise ValueError(f"{name} must be a finite (4, 4) pose, got {pose.tolist()}")
    turn = pose[:3, :3]
    error = float(np.abs(turn.T @ turn - np.eye(3)).max())
    bottom = np.abs(pose[3] - [0.0, 0.0, 0.0, 1.0]).max()
    if not (error <= RIGID_ATOL and bottom == 0 and np.linalg.det(turn) > 0):
        raise ValueError(
            f"{name} must be rigid to {RIGID_ATOL}: axes are off by {error:.3g}, bottom row "
            f"{pose[3].tolist()}, determinant {np.linalg.det(turn):.6f}"
        )


def step_turns(turns: Array) -> tuple[Array, Array]:
    """Axis, in the moving frame, and angle of the turn from each pose to the next.

    Parameters
    ----------
    turns : (k, 3, 3) float
        Rotation of each pose.

    Returns
    -------
    axes : (k - 1, 3) float
        Unit axes; any where there is no turn.
    angles : (k - 1,) float
        From 0 to pi. [rad]
    """
    steps = np.swapaxes(turns[:-1], 1, 2) @ turns[1:]
    skew = 0.5 * np.stack(
        [
            steps[:, 2, 1] - steps[:, 1, 2],
            steps[:, 0, 2] - steps[:, 2, 0],
            steps[:, 1, 0] - steps[:, 0, 1],
        ],
        axis=1,
    )
    sines = np.linalg.norm(skew, axis=1)
    cosines = 0.5 * (np.trace(steps, axis1=1, axis2=2) - 1.0)
    axes = np.tile([0.0, 0.0, 1.0], (len(steps), 1))
    turned = sines > 0
    axes[turned] = skew[turned] / sines[turned, None]
    return axes, np.arctan2(sines, cosines)


def between(start: Array, end: Array, shares: Array) -> Array:
    """Poses between two stations, as `Path` defines them.

    Parameters
    ----------
    start, end : (4, 4) float
        Poses at the two stations. [m]
    shares : (n,) float
        From 0 at the first to 1 at the second. [1]

    Returns
    -------
    poses : (n, 4, 4) float
        The poses. [m]
    """
    axes, angles = step_turns(np.stack([start[:3, :3], end[:3, :3]]))
    x, y, z = axes[0]
    skew = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn = shares * angles[0]
    rotation = (
        np.eye(3)
        + np.sin(turn)[:, None, None] * skew
        + (2.0 * np.sin(0.5 * turn) ** 2)[:, None, None] * (skew @ skew)
    )
    poses = np.zeros((len(shares), 4, 4))
    poses[:, :3, :3] = start[:3, :3] @ rotation
    poses[:, :3, 3] = start[:3, 3] + shares[:, None] * (end[:3, 3] - start[:3, 3])
    poses[:, 3, 3] = 1.0
    return poses


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """How a body stands on a straight path.

    Attributes
    ----------
    x, y : float
        Place of its origin in plan, fixed frame. [m]
    yaw : float
        Turn about z. [rad]
    tilt_x, tilt_y : float
        Turn about the fixed x and then the fixed y axis, before the yaw. [rad]
    """

    x: float = 0.0
    y: float = 0.0
    yaw: float = 0.0
    tilt_x: float = 0.0
    tilt_y: float = 0.0

    def pose(self, heel: float) -> Array:
        """Pose with the origin at height `heel`.

        Parameters
        ----------
        heel : float
            Height of the origin, fixed frame. [m]

        Returns
        -------
        pose : (4, 4) float
            ``fixed_from_moving``. [m]
        """
        cx, sx = math.cos(self.tilt_x), math.sin(self.tilt_x)
        cy, sy = math.cos(self.tilt_y), math.sin(self.tilt_y)
        cz, sz = math.cos(self.yaw), math.sin(self.yaw)
        about_x = np.array([[1.0, 0.0, 0.0], [0.0, cx, -sx], [0.0, sx, cx]])
        about_y = np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
        about_z = np.array([[cz, -sz, 0.0], [sz, cz, 0.0], [0.0, 0.0, 1.0]])
        pose = np.eye(4)
        pose[:3, :3] = about_z @ about_y @ about_x
        pose[:3, 3] = self.x, self.y, heel
        return pose


UPRIGHT = Lean()


def straight_path(
    start_heel: float, end_heel: float, *, lean: Lean = UPRIGHT, steps: int = 600
) -> Path:
    """Path straight up, without turning; its stations are heel heights.

    Parameters
    ----------
    start_heel, end_heel : float
        Height of the body's origin at both ends, fixed frame. [m]
    lean : Lean, optional
        How the body stands.
    steps : int, optional
        Number of even steps. [1]

    Returns
    -------
    path : Path
        The path.

    Raises
    ------
    ValueError
        If `end_heel` is not above `start_heel` or `steps` is not positive.
    """
    if not (end_heel > start_heel and steps > 0):
        raise ValueError(
            f"a path must rise in at least one step, got {start_heel} to {end_heel} m "
            f"in {steps}"
        )
    stations = np.linspace(start_heel, end_heel, steps + 1)
    return Path(stations=stations, poses=np.stack([lean.pose(float(s)) for s in stations]))


class Motion(NamedTuple):
    """A path between the box frames of two bodies, cut fine enough for a query.

    Attributes
    ----------
    turns : (k, 3, 3) float
        Rotation from the moving body's box frame to the fixed body's.
    shifts : (k, 3) float
        Where the moving box frame's origin goes. [m]
    origins : (k, 3) float
        Where the moving body's own origin goes; runs straight between. [m]
    pivot : (3,) float
        The moving box frame's origin seen from the body's own. [m]
    axes, angles : (k - 1, 3), (k - 1,) float
        Turn of each step, axis in the moving box frame. [1, rad]
    strays : (k - 1,) float
        Most by which any point leaves its straight run. [m]
    """

    turns: Array
    shifts: Array
    origins: Array
    pivot: Array
    axes: Array
    angles: Array
    strays: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FinePath:
    """A path cut so that points run straight, and where each cut came from.

    Attributes
    ----------
    motion : Motion
        The path between box frames.
    stations : (k,) float
        Parameter at each cut.
    steps : (k - 1,) int
        Step of the path that each fine step lies in.
    """

    motion: Motion
    stations: Array
    steps: NDArray[np.int64]


def relative_frames(moving: Body, fixed: Body, poses: Array) -> tuple[Array, Array, Array]:
    """Express poses between the box frames of two bodies.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    poses : (k, 4, 4) float
        ``fixed_from_moving``. [m]

    Returns
    -------
    turns, shifts, origins : (k, 3, 3), (k, 3), (k, 3) float
        As in `Motion`.
    """
    to_fixed = fixed.frame.T
    turns = to_fixed @ poses[:, :3, :3] @ moving.frame
    # The centres are taken away before turning into the box frame, so that
    # coordinates far from the origin keep their digits.
    origins = (poses[:, :3, 3] - fixed.centre) @ fixed.frame
    carried = poses[:, :3, :3] @ moving.centre + (poses[:, :3, 3] - fixed.centre)
    return np.ascontiguousarray(turns), carried @ fixed.frame, origins


def fine_path(moving: Body, fixed: Body, path: Path, most_stray: float) -> FinePath:
    """Cut a path until no point strays from its straight run by more than a limit.

    Parameters
    ----------
    moving, fixed : Body
        The bodies.
    path : Path
        The path of the moving body.
    most_stray : float
        Limit. [m]

    Returns
    -------
    fine : FinePath
        The path, cut.
    """
    radius = float(np.linalg.norm(moving.vertices, axis=1).max())
    axes, angles = step_turns(path.poses[:, :3, :3])
    cuts = np.ceil(angles / math.sqrt(8.0 * most_stray / max(radius, 1e-9))).astype(np.int64)
    cuts = np.maximum(cuts, 1)
    steps = np.repeat(np.arange(len(cuts)), cuts)
    if cuts.max() == 1:
        poses, stations = path.poses, path.stations
    else:
        runs = [
            between(path.poses[k], path.poses[k + 1], np.arange(n) / n)
            for k, n in enumerate(cuts)
        ]
        poses = np.concatenate([*runs, path.poses[-1:]])
        inside = np.concatenate([np.arange(n) / n for n in cuts])
        stations = np.append(
            path.stations[steps] + inside * np.diff(path.stations)[steps], path.stations[-1]
        )
    turns, shifts, origins = relative_frames(moving, fixed, poses)
    fine_angles = angles[steps] / cuts[steps]
    motion = Motion(
        turns=turns,
        shifts=shifts,
        origins=origins,
        pivot=moving.frame.T @ moving.centre,
        axes=np.ascontiguousarray(axes[steps] @ moving.frame),
        angles=fine_angles,
        strays=radius * fine_angles**2 / 8.0,
    )
    return FinePath(motion=motion, stations=stations, steps=steps)


def as_pose(pose: ArrayLike) -> Array:
    """Check one pose.

    Parameters
    ----------
    pose : (4, 4) float
        ``fixed_from_moving``. [m]

    Returns
    -------
    pose : (4, 4) float
        The same.

    Raises
    ------
    ValueError
        If it is not finite and rigid.
    """
    checked = np.array(pose, dtype=np.float64)
    check_rigid(checked, "pose")
    return checked
