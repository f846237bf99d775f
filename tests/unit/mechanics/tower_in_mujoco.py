"""The same hung section in MuJoCo, a general engine for bodies in contact.

Lines are spatial tendons with a spring that pulls beyond its length and never pushes;
shoes are small balls on the section, rails are planes. The engine is left to swing with
damping until it stands; it knows nothing of our equations.
"""

from dataclasses import dataclass

import mujoco  # type: ignore[import-untyped]
import numpy as np
from numpy.typing import NDArray

from towerlift.mechanics import STANDARD_GRAVITY

Floats = NDArray[np.float64]
BALL = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Tower:
    """One section on lines, perhaps between rails, hanging true with its lift points at z = 0.

    Attributes
    ----------
    upper, lower : (n, 3) float
        Ends of the lines. [m]
    stiffness : (n,) float
        [N/m]
    weight : float
        [N]
    centre : (3,) float
        Centre of gravity. [m]
    at, outward : (q, 3) float
        Shoes and their normals. [m]
    gap, friction : float
        Clearance of every shoe, and friction on the rails. [m]
    force : (3,) float
        Wind, at the centre of gravity. [N]
    """

    upper: Floats
    lower: Floats
    stiffness: Floats
    weight: Floats | float
    centre: Floats
    at: Floats
    outward: Floats
    gap: float
    friction: float
    force: Floats

    @property
    def haul(self) -> float:
        """Haul of all lines that balances the weight in the true hang. [m]"""
        rise = (self.upper - self.lower)[:, 2] / self.lengths
        return float(self.weight / (self.stiffness * rise).sum())

    @property
    def lengths(self) -> Floats:
        """Of the lines. [m]"""
        lengths: Floats = np.linalg.norm(self.upper - self.lower, axis=1)
        return lengths


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How finely the engine reckons.

    Attributes
    ----------
    step : float
        [s]
    hardness : float
        Time in which a contact gives back what has sunk in; a smaller one is harder. [s]
    """

    step: float = 1e-3
    hardness: float = 4e-3


def xml_of(tower: Tower, settings: Settings) -> str:
    """The model as the engine reads it."""
    mass = float(tower.weight) / STANDARD_GRAVITY
    spin = mass * 6.0
    c = tower.centre
    shoes, rails, sites, tendons = [], [], [], []
    for at, out in zip(tower.at, tower.outward, strict=True):
        ball = at - c - BALL * out
        rail = at + tower.gap * out
        shoes.append(f'<geom type="sphere" size="{BALL}" pos="{_row(ball)}" mass="0"/>')
        side = np.cross(out, [0.0, 0.0, 1.0])
        # A plane's own z looks away from it, at the section.
        turn = np.column_stack([np.cross([0.0, 0.0, 1.0], -out), [0.0, 0.0, 1.0]])
        assert np.allclose(np.linalg.norm(side), 1)
        rails.append(
            f'<geom type="plane" size="0 0 1" pos="{_row(rail)}" '
            f'xyaxes="{_row(turn[:, 0])} {_row(turn[:, 1])}" contype="2" conaffinity="1"/>'
        )
    for number, (top, foot) in enumerate(zip(tower.upper, tower.lower, strict=True)):
        rails.append(f'<site name="u{number}" pos="{_row(top)}"/>')
        sites.append(f'<site name="l{number}" pos="{_row(foot - c)}"/>')
        rest = tower.lengths[number] - tower.haul
        damping = 0.05 * np.sqrt(tower.stiffness[number] * mass)
        tendons.append(
            f'<spatial springlength="0 {rest:.12g}" stiffness="{tower.stiffness[number]:.12g}" '
            f'damping="{damping:.6g}"><site site="u{number}"/>'
            f'<site site="l{number}"/></spatial>'
        )
    hard = f"{settings.hardness:.6g} 1"
    return f"""<mujoco>
<option timestep="{settings.step}" gravity="0 0 {-STANDARD_GRAVITY}" integrator="implicitfast"
 cone="elliptic" impratio="100" tolerance="1e-12" iterations="200"/>
<default><geom friction="{max(tower.friction, 1e-6)} 1e-6 1e-6" condim="{
        3 if tower.friction > 0 else 1
    }" solref="{hard}" solimp="0.99 0.999 0.0005" contype="1" conaffinity="2"/></default>
<worldbody>{"".join(rails)}
<body name="section" pos="{_row(c)}"><freejoint/>
<inertial pos="0 0 0" mass="{mass:.12g}" diaginertia="{spin:.6g} {spin:.6g} {spin:.6g}"/>
{"".join(shoes)}{"".join(sites)}</body></worldbody>
<tendon>{"".join(tendons)}</tendon></mujoco>"""


def _row(values: Floats) -> str:
    return " ".join(f"{value:.12g}" for value in values)


class Engine:
    """The engine with one tower in it."""

    def __init__(self, tower: Tower, settings: Settings | None = None) -> None:
        self.tower = tower
        self.settings = settings or Settings()
        self.model = mujoco.MjModel.from_xml_string(xml_of(tower, self.settings))
        self.data = mujoco.MjData(self.model)
        self.data.xfrc_applied[1, :3] = tower.force
        mass = float(tower.weight) / STANDARD_GRAVITY
        # Damping of the body's own motion; gone when it stands.
        self.model.dof_damping[:3] = 0.3 * mass
        self.model.dof_damping[3:] = 0.3 * mass * 6.0

    def haul(self, extra: Floats) -> None:
        """Take in each line by so much more than hangs it true. [m]"""
        rest = self.tower.lengths - self.tower.haul - extra
        self.model.tendon_lengthspring[:, 1] = rest

    def run(self, seconds: float, *, until_still: bool = True) -> bool:
        """Let time pass; whether the section came to stand."""
        for n in range(int(seconds / self.settings.step)):
            mujoco.mj_step(self.model, self.data)
            if self.tilt > 0.3:
                return False
            if until_still and n % 200 == 199 and np.abs(self.data.qvel).max() < 2e-6:
                return True
        return False

    @property
    def tilt(self) -> float:
        """Angle of its axis from the vertical. [rad]"""
        return float(np.arccos(np.clip(self.data.xmat[1].reshape(3, 3)[2, 2], -1, 1)))

    @property
    def middle(self) -> Floats:
        """Move of the mean of the lift points from the true hang. [m]"""
        turn = self.data.xmat[1].reshape(3, 3)
        middle = self.tower.lower.mean(axis=0)
        arm = turn @ (middle - self.tower.centre)
        return np.asarray(self.data.xpos[1] + arm - middle)

    @property
    def turn(self) -> Floats:
        """Rotation matrix from the true hang."""
        return np.array(self.data.xmat[1]).reshape(3, 3)

    @property
    def tensions(self) -> Floats:
        """Of the lines, by their lengths. [N]"""
        stretch = self.data.ten_length - self.model.tendon_lengthspring[:, 1]
        return np.asarray(self.tower.stiffness * np.maximum(stretch, 0.0))
