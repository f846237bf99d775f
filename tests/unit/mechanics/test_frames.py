"""Frames against closed forms, and against another program on frames of all kinds."""

import numpy as np
import pytest
from Pynite import FEModel3D

from towerlift.mechanics.frames import (
    Frame,
    Held,
    buckling_factor,
    solve_frame,
    torsion_constant,
)

E, G, A, INERTIA, J = 11e9, 0.69e9, 0.06, 3e-4, 4e-4


def axes_of(nodes, bars):
    along = nodes[bars[:, 1]] - nodes[bars[:, 0]]
    along = along / np.linalg.norm(along, axis=1, keepdims=True)
    away = np.where(np.abs(along[:, 2:]) > 0.99, [[1.0, 0, 0]], [[0, 0, 1.0]])
    second = away - (away * along).sum(axis=1, keepdims=True) * along
    second /= np.linalg.norm(second, axis=1, keepdims=True)
    return np.stack([along, second, np.cross(along, second)], axis=1)


def frame(nodes, bars, hinged=None, inertia=(INERTIA, INERTIA)):
    nodes, bars = np.array(nodes, float), np.array(bars)
    m = len(bars)
    return Frame(
        nodes=nodes,
        bars=bars,
        axes=axes_of(nodes, bars),
        area=np.full(m, A),
        inertia=np.tile(inertia, (m, 1)).astype(float),
        torsion=np.full(m, J),
        modulus=np.full(m, E),
        shear_modulus=np.full(m, G),
        hinged=np.zeros((m, 2), bool) if hinged is None else np.array(hinged),
    )


def held(n, **at):
    """Supports by node: a string of the six letters that are fixed, such as "xyz"."""
    fixed = np.zeros((n, 6), bool)
    for node, letters in at.items():
        fixed[int(node[1:]), ["xyzuvw".index(each) for each in letters]] = True
    return Held(fixed=fixed, springs=np.zeros((n, 6)))


def load(n, *rows):
    loads = np.zeros((1, n, 6))
    for node, axis, value in rows:
        loads[0, node, axis] = value
    return loads


def test_a_cantilever():
    beam = frame([[0, 0, 0], [3, 0, 0]], [[0, 1]], inertia=(INERTIA, 2 * INERTIA))
    found = solve_frame(beam, held(2, n0="xyzuvw"), load(2, (1, 2, -1000.0)))
    # P L^3 / 3 E I downward, and P L at the root.
    assert found.moves[0, 1, 2] == pytest.approx(-1000 * 27 / (3 * E * INERTIA), rel=1e-9)
    assert abs(found.ends[0, 0, 0, 5]) == pytest.approx(3000)
    sideways = solve_frame(beam, held(2, n0="xyzuvw"), load(2, (1, 1, 1000.0)))
    assert sideways.moves[0, 1, 1] == pytest.approx(1000 * 27 / (3 * E * 2 * INERTIA), rel=1e-9)
    twisted = solve_frame(beam, held(2, n0="xyzuvw"), load(2, (1, 3, 50.0)))
    assert twisted.moves[0, 1, 3] == pytest.approx(50 * 3 / (G * J), rel=1e-9)


def test_a_simple_beam():
    beam = frame([[0, 0, 0], [2, 0, 0], [4, 0, 0]], [[0, 1], [1, 2]])
    found = solve_frame(beam, held(3, n0="xyzu", n2="yz"), load(3, (1, 2, -800.0)))
    assert found.moves[0, 1, 2] == pytest.approx(-800 * 64 / (48 * E * INERTIA), rel=1e-9)
    assert abs(found.ends[0, 0, 1, 5]) == pytest.approx(800.0)  # P L / 4


def test_a_fixed_beam_with_a_hinge_at_one_end():
    beam = frame([[0, 0, 0], [2, 0, 0], [4, 0, 0]], [[0, 1], [1, 2]], [[0, 0], [0, 1]])
    found = solve_frame(beam, held(3, n0="xyzuvw", n2="xyzuvw"), load(3, (1, 2, -800.0)))
    # Propped cantilever: 3 P L / 16 at the fixed end, 5 P L / 32 under the load.
    assert abs(found.ends[0, 0, 0, 5]) == pytest.approx(3 * 800 * 4 / 16)
    assert abs(found.ends[0, 0, 1, 5]) == pytest.approx(5 * 800 * 4 / 32)
    assert found.ends[0, 1, 1, 5] == pytest.approx(0.0, abs=1e-6)


def test_a_truss():
    # Two bars at 30 degrees from level under a load at their joint: P / (2 sin 30).
    rise = np.tan(np.radians(30))
    truss = frame([[-1, 0, 0], [1, 0, 0], [0, 0, rise]], [[0, 2], [1, 2]], [[1, 0], [1, 1]])
    found = solve_frame(
        truss, held(3, n0="xyzuvw", n1="xyzuvw", n2="y"), load(3, (2, 2, -600.0))
    )
    np.testing.assert_allclose(found.axial[0], [-600.0, -600.0], rtol=1e-6)


def test_a_portal_with_pinned_feet():
    # Side load P at the head: each foot P / 2 level, H / B P up and down; moment P H / 2.
    portal = frame([[0, 0, 0], [0, 0, 3], [4, 0, 3], [4, 0, 0]], [[0, 1], [1, 2], [2, 3]])
    supports = held(4, n0="xyz", n1="y", n2="y", n3="xyz")
    found = solve_frame(portal, supports, load(4, (1, 0, 500.0), (2, 0, 500.0)))
    assert abs(found.ends[0, 0, 1, 4:]).max() == pytest.approx(500 * 3, rel=1e-9)
    assert found.axial[0, 0] == pytest.approx(1000 * 3 / 4)
    assert found.axial[0, 2] == pytest.approx(-1000 * 3 / 4)


def test_a_loose_piece_is_refused():
    loose = frame([[0, 0, 0], [2, 0, 0]], [[0, 1]], [[1, 0]])
    with pytest.raises(ValueError, match="mechanism"):
        solve_frame(loose, held(2, n0="xyzuvw"), load(2, (1, 2, -1.0)))


def test_what_is_no_frame_is_refused():
    with pytest.raises(ValueError, match="length"):
        frame([[0, 0, 0], [0, 0, 0]], [[0, 1]])
    with pytest.raises(ValueError, match="inertia"):
        frame([[0, 0, 0], [1, 0, 0]], [[0, 1]], inertia=(np.nan, INERTIA))


def test_torsion_of_rectangles():
    # Series of Saint-Venant: 0.1406 of a square, 0.2287 of two to one, 1/3 of a strip.
    found = torsion_constant(np.array([1.0, 2.0, 1000.0]), np.array([1.0, 1.0, 1.0]))
    np.testing.assert_allclose(found / [1, 2, 1000], [0.1406, 0.2287, 0.3333], rtol=4e-3)


def test_buckling_of_a_stud():
    # A textbook of structural timber design, studs of C16: at a relative slenderness of
    # 2.32 it prints k = 3.39, whence the factor 1 / (k + sqrt(k^2 - 2.32^2)).
    strength, modulus = 17e6, 5.4e9
    slender = 2.32 * np.pi / np.sqrt(strength / modulus)
    found = buckling_factor(np.array([slender]), np.array([strength]), np.array([modulus]))
    assert found[0] == pytest.approx(1 / (3.39 + np.sqrt(3.39**2 - 2.32**2)), rel=2e-3)
    short = buckling_factor(np.array([15.0]), np.array([strength]), np.array([modulus]))
    assert short[0] == 1.0


def other_program(made, supports, loads):
    """The same frame in PyNiteFEA, which has its y axis up and its own local axes."""
    model = FEModel3D()
    model.add_material("wood", E, G, 0.3, 600.0)
    model.add_section("square", A, INERTIA, INERTIA, J)
    for k, (x, y, z) in enumerate(made.nodes):
        model.add_node(f"N{k}", x, z, -y)
    for k, (i, j) in enumerate(made.bars):
        model.add_member(f"M{k}", f"N{i}", f"N{j}", "wood", "square")
        first, second = (bool(each) for each in made.hinged[k])
        model.def_releases(f"M{k}", Ryi=first, Rzi=first, Ryj=second, Rzj=second)
    for k, (x, y, z, u, v, w) in enumerate(supports.fixed):
        model.def_support(f"N{k}", bool(x), bool(z), bool(y), bool(u), bool(w), bool(v))
    for k, (x, y, z) in enumerate(loads[0, :, :3]):
        for direction, value in (("FX", x), ("FY", z), ("FZ", -y)):
            model.add_node_load(f"N{k}", direction, value, case="load")
    model.add_load_combo("all", {"load": 1.0})
    model.analyze_linear(check_stability=False)
    moves = np.array([
        [node.DX["all"], -node.DZ["all"], node.DY["all"]]
        for node in (model.nodes[f"N{k}"] for k in range(len(made.nodes)))
    ])  # fmt: skip
    axial = np.array([-model.members[f"M{k}"].max_axial("all") for k in range(len(made.bars))])
    return moves, axial


@pytest.mark.parametrize("seed", range(6))
def test_another_program_agrees(seed):
    chance = np.random.default_rng(seed)
    nodes = chance.uniform(0, 4, (8, 3))
    nodes[:4, 2] = 0.0
    bars = [
        (i, j) for i in range(8) for j in range(i + 1, 8) if j == i + 1 or chance.random() < 0.5
    ]
    hinged = chance.random((len(bars), 2)) < 0.3
    # One bar at each node keeps its moment, so that no node turns freely.
    for node in range(8):
        k = next(k for k, bar in enumerate(bars) if node in bar)
        hinged[k, bars[k].index(node)] = False
    made = frame(nodes, bars, hinged)
    supports = held(8, n0="xyz", n1="xyz", n2="xyz", n3="xyz")
    loads = np.zeros((1, 8, 6))
    loads[0, :, :3] = chance.uniform(-5e3, 5e3, (8, 3))
    found = solve_frame(made, supports, loads)
    moves, axial = other_program(made, supports, loads)
    np.testing.assert_allclose(found.moves[0, :, :3], moves, rtol=1e-6, atol=1e-10)
    np.testing.assert_allclose(found.axial[0], axial, rtol=1e-5, atol=0.05)
