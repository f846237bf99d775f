"""What every test shares."""

import os

import pytest
from hypothesis import settings

from towerlift import check_plan
from towerlift.plan import new_plan, read_plan

# The same examples every time in CI, so that a red run can be seen again; new ones at
# a desk and under `make fuzz`. No deadline: compiling a kernel is not a slow answer.
settings.register_profile("desk", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.register_profile("fuzz", deadline=None, max_examples=5000)
settings.load_profile(
    os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "desk")
)


@pytest.fixture(scope="session")
def starter_outcome(tmp_path_factory):
    """Outcome of the small plan that `towerlift new` writes: reckoned once for all."""
    folder = tmp_path_factory.mktemp("starter") / "plan"
    file = new_plan(folder)
    return check_plan(read_plan(file), folder)
