"""Guided loads with friction against a linear program that shares no code with the solver.

The program knows only equilibrium: forces at the contacts push and never pull, and none
drags by more than friction times what it presses. Its greatest and least lift are where
the load begins to move up and down.
"""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.spatial.transform import Rotation

from towerlift.mechanics.guided import Disturbance, settle_guided
from towerlift.mechanics.hang import HungLoad
from towerlift.mechanics.jam import jam_share
from towerlift.mechanics.lowering import carried_going_down, carried_going_up
from towerlift.mechanics.shoes import Guides, Wind

# Half width of the drawer at its shoes. [m]
HALF = 1.3


def lift_at_the_limit(friction, offset, spacing, *, up):
    """Lift of unit weight when a drawer on two shoes an axis begins to move; None if never.

    Upper shoe on the side it leans to, lower shoe across from it, each axis by itself.
    """
    contacts = []  # (normal pointing into the body, place)
    for axis, e in enumerate(offset):
        # Lifted at the side e > 0, the top leans to the other side.
        lean = -1.0 if e > 0 else 1.0
        for z, side in ((spacing, lean), (0.0, -lean)):
            normal, place = np.zeros(3), np.zeros(3)
            normal[axis], place[axis], place[2] = -side, side * HALF, z
            contacts.append((normal, place))
    n = len(contacts)
    rows = np.zeros((6, 2 * n + 1))
    for k, (normal, place) in enumerate(contacts):
        for column, force in ((k, normal), (n + k, np.array([0.0, 0.0, 1.0]))):
            rows[:3, column], rows[3:, column] = force, np.cross(place, force)
    line, lift = np.array([*offset, 0.0]), np.array([0.0, 0.0, 1.0])
    rows[:3, -1], rows[3:, -1] = lift, np.cross(line, lift)
    # Weight one at the axis; turning about the axis is held by something else.
    keep, right = [0, 1, 2, 3, 4], np.array([0.0, 0.0, 1.0, 0.0, 0.0])
    coulomb = np.zeros((2 * n, 2 * n + 1))
    for k in range(n):
        coulomb[2 * k, [n + k, k]] = 1.0, -friction
        coulomb[2 * k + 1, [n + k, k]] = -1.0, -friction
    found = linprog(
        np.eye(2 * n + 1)[-1] * (-1.0 if up else 1.0),
        A_ub=coulomb,
        b_ub=np.zeros(2 * n),
        A_eq=rows[keep],
        b_eq=right,
        bounds=[(0, None)] * n + [(None, None)] * n + [(0, None)],
    )
    if found.status == 3:
        return None
    assert found.status == 0, found.message
    return float(found.x[-1])


@settings(max_examples=40)
@given(
    friction=st.floats(0.05, 0.6),
    ex=st.floats(-0.8, 0.8),
    ey=st.floats(-0.8, 0.8),
    spacing=st.floats(1.0, 6.0),
)
def test_a_drawer_up_and_down(friction, ex, ey, spacing):
    # Past this two shoes across from each other lock by themselves, whatever is lifted.
    assume(friction < 0.95 * spacing / (2 * HALF))
    share = float(jam_share(friction, ex, ey, spacing))
    up = lift_at_the_limit(friction, (ex, ey), spacing, up=True)
    if share > 1 + 1e-9:
        assert up is None
    elif share < 1 - 1e-3:
        assert up == pytest.approx(float(carried_going_up(share)), rel=1e-6)
    down = lift_at_the_limit(friction, (ex, ey), spacing, up=False)
    assert down == pytest.approx(float(carried_going_down(share)), rel=1e-6)


def guided(friction, force, at):
    """A load of 100 kN on four lines between shoes at two levels of each face."""
    half, levels = 2.0, (0.3, 2.4)
    corners = np.array([[x, y, 0.0] for x in (-1.8, 1.8) for y in (-1.8, 1.8)])
    shoes, outward = [], []
    for axis in (0, 1):
        for side in (-1.0, 1.0):
            for z in levels:
                # One to a face and level: two abreast could press against each other.
                place, normal = np.zeros(3), np.zeros(3)
                place[axis], place[2] = side * half, z
                normal[axis] = side
                shoes.append(place)
                outward.append(normal)
    load = HungLoad(
        upper=(corners + np.array([0.0, 0.0, 8.0]))[None],
        lower=corners[None],
        stiffness=np.array([[1.2e5, 1.1e5, 1.3e5, 1.2e5]]),
        weight=np.array([1e5]),
        centre=np.array([[0.06, -0.03, 4.0]]),
        groups=np.arange(4),
    )
    guides = Guides(
        at=np.array(shoes)[None],
        outward=np.array(outward)[None],
        gap=np.full((1, len(shoes)), 0.01),
        friction=np.array([friction]),
    )
    wind = Wind(force=np.array([[*force, 0.0]]), at=np.array([[0.0, 0.0, at]]))
    return load, guides, wind


def program_for(load, guides, wind, hang, *, up):
    """Greatest or least sum of the lines, shared as the solver shares it, shoes that touch."""
    touch = np.flatnonzero(hang.touching[0])
    n = len(touch)
    share = hang.tensions[0] / hang.tensions[0].sum()
    columns = []
    columns += [(-guides.outward[0, k], guides.at[0, k]) for k in touch]
    columns += [(np.array([0.0, 0.0, 1.0]), guides.at[0, k]) for k in touch]
    rows = np.zeros((6, 2 * n + 1))
    turn, shift = Rotation.from_rotvec(hang.turn[0]), hang.shift[0]
    middle = load.lower[0].mean(axis=0)

    def moved(point):
        return middle + shift + turn.apply(point - middle)

    for column, (force, place) in enumerate(columns):
        at = moved(place)
        rows[:3, column], rows[3:, column] = force, np.cross(at, force)
    for each, below, above in zip(share, load.lower[0], load.upper[0], strict=True):
        at = moved(below)
        along = (above - at) / np.linalg.norm(above - at)
        rows[:3, -1] += each * along
        rows[3:, -1] += each * np.cross(at, along)
    weight = np.array([0.0, 0.0, -load.weight[0]])
    right = -np.concatenate([weight, np.cross(moved(load.centre[0]), weight)])
    right -= np.concatenate([wind.force[0], np.cross(moved(wind.at[0]), wind.force[0])])
    coulomb = np.zeros((2 * n, 2 * n + 1))
    for k in range(n):
        coulomb[2 * k, [n + k, k]] = 1.0, -guides.friction[0]
        coulomb[2 * k + 1, [n + k, k]] = -1.0, -guides.friction[0]
    # The solver leaves a part in a hundred million over.
    slack = 1e-6 * load.weight[0]
    found = linprog(
        np.eye(2 * n + 1)[-1] * (-1.0 if up else 1.0),
        A_ub=np.vstack([coulomb, rows, -rows]),
        b_ub=np.concatenate([np.zeros(2 * n), right + slack, slack - right]),
        bounds=[(0, None)] * n + [(None, None)] * n + [(0, None)],
    )
    assert found.status == 0, found.message
    return float(found.x[-1])


CASES = [
    pytest.param(0.2, (3000.0, 0.0), 7.0, id="greased, wind square"),
    pytest.param(0.2, (2500.0, 2500.0), 6.0, id="greased, wind quartering"),
    pytest.param(0.4, (6000.0, 1000.0), 7.5, id="dry, strong wind"),
    pytest.param(0.1, (9000.0, 0.0), 5.0, id="well greased, gale"),
]


@pytest.mark.parametrize("way", ["up", "down"])
@pytest.mark.parametrize(("friction", "force", "at"), CASES)
def test_a_guided_load_in_wind(friction, force, at, way):
    load, guides, wind = guided(friction, force, at)
    hang = settle_guided(load, guides, disturbed=Disturbance(wind=wind), way=way)
    assert hang.rests[0]
    assert hang.touching[0].any()
    lift = program_for(load, guides, wind, hang, up=way == "up")
    assert lift == pytest.approx(float(hang.tensions[0].sum()), rel=1e-4)


def test_the_two_friction_cases_of_one_lost_corner():
    # Three of four corners carry: the resultant lies a third of the radius off, 0.97 m on
    # the diagonal of lines 4.1 m apart, on shoes 2.6 m apart. By hand from V = W / (1 - j).
    e = 4.1 / np.sqrt(2) / 3 / np.sqrt(2)
    assert lift_at_the_limit(0.2, (e, e), 2.6, up=True) == pytest.approx(1.27, abs=0.005)
    assert lift_at_the_limit(0.5, (e, e), 2.6, up=True) == pytest.approx(2.11, abs=0.01)
