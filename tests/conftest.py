"""What every test shares."""

import os

from hypothesis import settings

# The same examples every time in CI, so that a red run can be seen again; new ones at
# a desk and under `make fuzz`. No deadline: compiling a kernel is not a slow answer.
settings.register_profile("desk", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.register_profile("fuzz", deadline=None, max_examples=5000)
settings.load_profile(
    os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "desk")
)
