"""Gap curves against two other distance libraries, at poses along the travel.

The reference is python-fcl and Coal, each given the same triangles; neither knows of a
path, so that no pose of a step may be nearer than the step's proven gap, and the pose
at which the least gap is said to occur must give that gap, to a tenth of a millimetre.
"""

import coal
import fcl
import numpy as np
import pytest

from tests.unit.nesting.small import pair_against, small_plan, workshop
from towerlift.nesting.passing import EPS, gap_curve


def fcl_distance(pair, heel):
    models = []
    for assembly in (pair.moving_assembly, pair.other_assembly):
        model = fcl.BVHModel()
        model.beginModel(len(assembly.vertices), len(assembly.faces))
        model.addSubModel(assembly.vertices, assembly.faces)
        model.endModel()
        models.append(model)
    pose = pair.pose(heel)
    moving = fcl.CollisionObject(models[0], fcl.Transform(pose[:3, :3], pose[:3, 3]))
    other = fcl.CollisionObject(models[1], fcl.Transform())
    return fcl.distance(moving, other, fcl.DistanceRequest(), fcl.DistanceResult())


def coal_distance(pair, heel):
    models = []
    for assembly in (pair.moving_assembly, pair.other_assembly):
        model = coal.BVHModelOBBRSS()
        model.beginModel(len(assembly.faces), len(assembly.vertices))
        for face in assembly.faces:
            model.addTriangle(*[assembly.vertices[corner] for corner in face])
        model.endModel()
        models.append(model)
    pose = pair.pose(heel)
    place = coal.Transform3s(pose[:3, :3], pose[:3, 3])
    request, result = coal.DistanceRequest(), coal.DistanceResult()
    return coal.distance(models[0], place, models[1], coal.Transform3s(), request, result)


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    plan = small_plan(plumb_line={"x": "12 mm", "y": "-7 mm", "turn": "1.5 deg"})
    return workshop(plan, tmp_path_factory.mktemp("small"))


@pytest.mark.parametrize("distance", [fcl_distance, coal_distance])
@pytest.mark.parametrize("against", ["shaft", "gantry"])
def test_no_pose_of_a_step_is_nearer_than_the_step(shop, against, distance):
    pair = pair_against(shop, against)
    curve = gap_curve(pair)
    assert curve.certified.all()
    for step in range(0, len(curve.least), 9):
        for heel in np.linspace(curve.heels[step], curve.heels[step + 1], 3):
            found = distance(pair, float(heel))
            assert curve.proven[step] <= found + 1e-9
        there = distance(pair, float(curve.at[step]))
        assert curve.proven[step] <= there + 1e-9
        assert curve.least[step] - EPS <= there <= curve.least[step] + 1e-9
