"""What the package gives out, and that a stale kernel cannot answer."""

from pathlib import Path

import llvmlite.binding
import numba
import pytest

import towerlift.gaps
from towerlift.gaps import cache, warm_up


def test_public_names():
    assert towerlift.gaps.__all__ == [
        "Body",
        "Cells",
        "GapMap",
        "GapSeries",
        "Hole",
        "Lean",
        "Line",
        "LineGap",
        "MarginScope",
        "Margins",
        "MemberGaps",
        "Path",
        "PathGap",
        "PlumbCeiling",
        "PlumbLine",
        "PoseGap",
        "Reach",
        "SampleVerdicts",
        "SeenGap",
        "Shift",
        "UnsearchedError",
        "best_plumb_line",
        "build_body",
        "build_margins",
        "find_holes",
        "fixed_map",
        "gap_series",
        "hole_gaps",
        "least_gap",
        "line_gap",
        "member_gaps",
        "moving_map",
        "open_ends",
        "plumb_ceiling",
        "pose_gap",
        "sample_bounds",
        "seen_gap",
        "settle_samples",
        "straight_path",
        "veil",
        "warm_up",
    ]
    assert all(hasattr(towerlift.gaps, name) for name in towerlift.gaps.__all__)


def test_kernels_are_kept_by_library_version(monkeypatch):
    before = cache.engine_hash.__wrapped__()
    assert cache.engine_hash.__wrapped__() == before
    monkeypatch.setattr(numba, "__version__", "0.0")
    assert cache.engine_hash.__wrapped__() != before


def test_kernels_are_kept_by_source(monkeypatch, tmp_path):
    before = cache.engine_hash.__wrapped__()
    for source in Path(cache.__file__).parent.glob("*.py"):
        (tmp_path / source.name).write_bytes(source.read_bytes())
    monkeypatch.setattr(cache, "__file__", str(tmp_path / "cache.py"))
    assert cache.engine_hash.__wrapped__() == before
    (tmp_path / "triangles.py").write_bytes(b"# changed\n")
    assert cache.engine_hash.__wrapped__() != before


def test_kernels_are_kept_by_processor(monkeypatch):
    before = cache.engine_hash.__wrapped__()
    monkeypatch.setattr(llvmlite.binding, "get_host_cpu_name", lambda: "another")
    assert cache.engine_hash.__wrapped__() != before


def test_folder_is_named(monkeypatch, tmp_path):
    monkeypatch.setenv(cache.CACHE_VARIABLE, str(tmp_path))
    folder = cache.cache_folder()
    assert folder is not None
    assert folder.parent == tmp_path / "towerlift"
    assert cache.engine_hash() in folder.name
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    monkeypatch.setenv(cache.CACHE_VARIABLE, str(blocked))
    assert cache.cache_folder() is None


def test_kernels_land_in_the_folder_of_the_engine():
    """Numba is told the folder only while our functions are decorated."""
    assert "kernels-" not in numba.config.CACHE_DIR


def test_progress_is_told_line_by_line():
    lines: list[str] = []
    assert warm_up(lines.append) > 0
    assert lines[0] == f"clearance kernels 1 of {len(lines)}: trees"
    assert lines[-1].startswith(f"clearance kernels {len(lines)} of {len(lines)}: ")


def test_kernels_are_ours():
    from towerlift.gaps.nearest import nearest_pair

    assert isinstance(nearest_pair, numba.core.dispatcher.Dispatcher)
    with pytest.raises(TypeError):
        nearest_pair()
