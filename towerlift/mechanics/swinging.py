"""The motion of a load on tension-only lines and between shoes, nothing damping it.

Leapfrog: momentum and place are moved in turn, which keeps the energy within a bound that
does not grow with time. What it drifts all the same is told, so that a step that was too
long is seen.
"""

from dataclasses import dataclass
from math import cos, sin, sqrt

import numpy as np
from numba import njit

from towerlift.mechanics import STANDARD_GRAVITY
from towerlift.mechanics.descent import FARTHEST_TILT
from towerlift.mechanics.energy import Flags, Floats, LineProblem, Pose

# Beyond this it has toppled, as the search for rest takes it too.
_SMALL = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """How long a motion is followed, and how finely.

    Attributes
    ----------
    seconds : (m,) float
        For which each case is followed. [s]
    step : (m,) float
        Of each case. [s]
    """

    seconds: Floats
    step: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """What was met on the way.

    Attributes
    ----------
    peaks : (m, n) float
        Greatest load on each line. [N]
    lean : (m,) float
        Greatest angle of the upright from the vertical. [rad]
    slack : (m,) bool
        Whether a line that is not lost went slack.
    toppled : (m,) bool
        Whether it went over.
    drift : (m,) float
        Greatest change of the energy, which ought to have none. [J]
    """

    peaks: Floats
    lean: Floats
    slack: Flags
    toppled: Flags
    drift: Floats


def swing_freely(problem: LineProblem, inertia: Floats, start: Pose, clock: Clock) -> Motion:
    """Let each load go from rest, and follow it step by step.

    Parameters
    ----------
    problem : LineProblem
        Load, the lines that are left, and its shoes, if any: they push as springs, beyond
        their clearance, and give all of it back. A steady force takes no part.
    inertia : (m, 3, 3) float
        About the centre of gravity, axes of the true hang. [kg m^2]
    start : Pose
        Where it is let go.
    clock : Clock
        How long and how finely.

    Returns
    -------
    motion : Motion
        Of every case; one that topples is followed no further.
    """
    m, n = problem.anchors.shape[:2]
    peaks, told = np.zeros((m, n)), np.zeros((m, 4))
    # Handed over, as a constant of another file would be frozen in what is kept compiled.
    _follow(
        problem.anchors, problem.arms, problem.centre, problem.weight,
        problem.weight / STANDARD_GRAVITY, cos(FARTHEST_TILT),
        problem.member.argmax(axis=0), problem.stiffness, problem.rest, problem.loads.shoes,
        np.linalg.inv(inertia), start.shift, start.turn,
        clock.step, (clock.seconds / clock.step).astype(np.int64), peaks, told,
    )  # fmt: skip
    return Motion(
        peaks=peaks,
        lean=np.arccos(np.clip(told[:, 0], -1.0, 1.0)),
        slack=told[:, 1] > 0,
        toppled=told[:, 2] > 0,
        drift=told[:, 3],
    )


_compiled = njit(cache=True, nogil=True)


@_compiled
def _rotate(turn, arm, out):  # type: ignore[no-untyped-def]
    for a in range(3):
        out[a] = turn[a, 0] * arm[0] + turn[a, 1] * arm[1] + turn[a, 2] * arm[2]


@_compiled
def _push(shoes, shift, turn, force):  # type: ignore[no-untyped-def]
    """Add force and moment of the shoes about the middle; their energy."""
    energy = 0.0
    for j in range(len(shoes)):
        x = turn[0, 0] * shoes[j, 0] + turn[0, 1] * shoes[j, 1] + turn[0, 2] * shoes[j, 2]
        y = turn[1, 0] * shoes[j, 0] + turn[1, 1] * shoes[j, 1] + turn[1, 2] * shoes[j, 2]
        z = turn[2, 0] * shoes[j, 0] + turn[2, 1] * shoes[j, 1] + turn[2, 2] * shoes[j, 2]
        closed = (shift[0] + x - shoes[j, 0]) * shoes[j, 3] - shoes[j, 6]
        closed += (shift[1] + y - shoes[j, 1]) * shoes[j, 4]
        closed += (shift[2] + z - shoes[j, 2]) * shoes[j, 5]
        if closed > 0:
            energy += 0.5 * shoes[j, 7] * closed * closed
            along = -shoes[j, 7] * closed
            p, q, r = along * shoes[j, 3], along * shoes[j, 4], along * shoes[j, 5]
            force[0] += p
            force[1] += q
            force[2] += r
            force[3] += y * r - z * q
            force[4] += z * p - x * r
            force[5] += x * q - y * p
    return energy


@_compiled
def _pull(anchors, arms, group, stiffness, rest, shift, turn, work):  # type: ignore[no-untyped-def]  # noqa: PLR0913, PLR0917
    """Load of each line, force and moment about the middle into the work; their energy."""
    lines, points, length, total, tension, force = work
    n, g = len(arms), len(stiffness)
    total[:] = 0.0
    for i in range(n):
        _rotate(turn, arms[i], points[i])
        square = 0.0
        for a in range(3):
            lines[i, a] = anchors[i, a] - shift[a] - points[i, a]
            square += lines[i, a] * lines[i, a]
        length[i] = sqrt(square)
        total[group[i]] += length[i]
    energy = 0.0
    for k in range(g):
        stretch = max(total[k] - rest[k], 0.0)
        energy += 0.5 * stiffness[k] * stretch * stretch
    force[:] = 0.0
    for i in range(n):
        k = group[i]
        tension[i] = stiffness[k] * max(total[k] - rest[k], 0.0)
        along = tension[i] / length[i]
        x, y, z = lines[i, 0] * along, lines[i, 1] * along, lines[i, 2] * along
        force[0] += x
        force[1] += y
        force[2] += z
        force[3] += points[i, 1] * z - points[i, 2] * y
        force[4] += points[i, 2] * x - points[i, 0] * z
        force[5] += points[i, 0] * y - points[i, 1] * x
    return energy


@_compiled
def _spin(turn, inverse, momentum, out):  # type: ignore[no-untyped-def]
    """Rate of turning for an angular momentum."""
    x = turn[0, 0] * momentum[0] + turn[1, 0] * momentum[1] + turn[2, 0] * momentum[2]
    y = turn[0, 1] * momentum[0] + turn[1, 1] * momentum[1] + turn[2, 1] * momentum[2]
    z = turn[0, 2] * momentum[0] + turn[1, 2] * momentum[1] + turn[2, 2] * momentum[2]
    p = inverse[0, 0] * x + inverse[0, 1] * y + inverse[0, 2] * z
    q = inverse[1, 0] * x + inverse[1, 1] * y + inverse[1, 2] * z
    r = inverse[2, 0] * x + inverse[2, 1] * y + inverse[2, 2] * z
    for a in range(3):
        out[a] = turn[a, 0] * p + turn[a, 1] * q + turn[a, 2] * r


@_compiled
def _turned(turn, spin, time, out):  # type: ignore[no-untyped-def]
    """Turned for a time at a rate, exactly: by Rodrigues, column after column."""
    rate = sqrt(spin[0] * spin[0] + spin[1] * spin[1] + spin[2] * spin[2])
    if rate * time < _SMALL:
        out[:] = turn
        return
    x, y, z = spin[0] / rate, spin[1] / rate, spin[2] / rate
    s, c = sin(rate * time), cos(rate * time)
    for b in range(3):
        u, v, w = turn[0, b], turn[1, b], turn[2, b]
        along = (x * u + y * v + z * w) * (1 - c)
        out[0, b] = u * c + (y * w - z * v) * s + x * along
        out[1, b] = v * c + (z * u - x * w) * s + y * along
        out[2, b] = w * c + (x * v - y * u) * s + z * along


@_compiled
def _follow(  # type: ignore[no-untyped-def]  # noqa: PLR0913, PLR0915, PLR0917
    anchors, arms, centre, weight, masses, toppled, group, stiffness, rest, shoes, inverse,
    shifts, turns, steps, counts, peaks, told,
):  # fmt: skip
    n, g = anchors.shape[1], stiffness.shape[1]
    force, tension = np.empty(6), np.empty(n)
    work = (np.empty((n, 3)), np.empty((n, 3)), np.empty(n), np.empty(g), tension, force)
    shift, arm, place, speed = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
    moment, momentum, spin = np.empty(3), np.empty(3), np.empty(3)
    turn, half = np.empty((3, 3)), np.empty((3, 3))
    for case in range(len(weight)):
        mass, dt, least, first = masses[case], steps[case], 1.0, 0.0
        turn[:] = turns[case]
        _rotate(turn, centre[case], arm)
        speed[:], momentum[:] = 0.0, 0.0
        place[:] = shifts[case] + arm
        for step in range(counts[case] + 1):
            _rotate(turn, centre[case], arm)
            shift[:] = place - arm
            energy = _pull(
                anchors[case], arms[case], group, stiffness[case], rest[case], shift, turn,
                work,
            ) + _push(shoes[case], shift, turn, force)  # fmt: skip
            # About the centre of gravity, where the weight has no moment.
            moment[0] = force[3] - arm[1] * force[2] + arm[2] * force[1]
            moment[1] = force[4] - arm[2] * force[0] + arm[0] * force[2]
            moment[2] = force[5] - arm[0] * force[1] + arm[1] * force[0]
            force[2] -= weight[case]
            # The second half of the last step's push, then the first half of the next.
            for part in range(2):
                if part == 0 and step == 0:
                    first = energy + weight[case] * place[2]
                    continue
                for a in range(3):
                    speed[a] += force[a] * dt / (2 * mass)
                    momentum[a] += moment[a] * dt / 2
                if part == 0:
                    _spin(turn, inverse[case], momentum, spin)
                    energy += weight[case] * place[2]
                    for a in range(3):
                        energy += 0.5 * (mass * speed[a] * speed[a] + spin[a] * momentum[a])
                    told[case, 3] = max(told[case, 3], abs(energy - first))
            for i in range(n):
                peaks[case, i] = max(peaks[case, i], tension[i])
                if tension[i] <= 0 and stiffness[case, group[i]] > 0:
                    told[case, 1] = 1.0
            least = min(least, turn[2, 2])
            if least < toppled:
                told[case, 2] = 1.0
                break
            for a in range(3):
                place[a] += speed[a] * dt
            # Half a turn with the spin of now, then the whole with the spin of half way.
            _spin(turn, inverse[case], momentum, spin)
            _turned(turn, spin, dt / 2, half)
            _spin(half, inverse[case], momentum, spin)
            _turned(turn, spin, dt, half)
            turn[:] = half
        told[case, 0] = least
