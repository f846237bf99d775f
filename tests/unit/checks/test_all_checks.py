"""Every check there is takes part, and every limit it uses can be set."""

import importlib
import pkgutil

from towerlift import checks
from towerlift.checks import ALL_CHECKS, ALL_LIMITS


def modules():
    return [
        importlib.import_module(f"{checks.__name__}.{found.name}")
        for found in pkgutil.iter_modules(checks.__path__)
    ]


def test_every_check_takes_part():
    written = {
        getattr(module, name)
        for module in modules()
        for name in vars(module)
        if name.startswith("check_") and getattr(module, name).__module__ == module.__name__
    }
    assert written == set(ALL_CHECKS)
    assert len(ALL_CHECKS) == len(set(ALL_CHECKS))


def test_every_limit_can_be_set():
    listed = [limit for module in modules() for limit in getattr(module, "LIMITS", ())]
    assert sorted(limit.name for limit in ALL_LIMITS) == sorted(limit.name for limit in listed)


def test_no_two_limits_share_a_name():
    names = [limit.name for limit in ALL_LIMITS]
    assert len(names) == len(set(names))


def test_every_limit_says_where_it_comes_from():
    assert all(limit.source.strip() for limit in ALL_LIMITS)
