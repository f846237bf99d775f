"""What `towerlift evidence` prints is what the tests hold."""

import subprocess
import sys
from pathlib import Path

from towerlift.cli import PASSES, main

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = ROOT / "towerlift" / "evidence.txt"


def gathered():
    program = "import sys; sys.path.insert(0, '.ci'); from evidence import evidence\n"
    program += "sys.stdout.write(evidence())"
    asked = [sys.executable, "-c", program]
    return subprocess.run(asked, cwd=ROOT, check=True, capture_output=True, text=True).stdout


def test_what_ships_is_what_the_tests_say():
    assert SHIPPED.read_text(encoding="utf-8") == gathered(), "run: make evidence"


def test_the_command_prints_it(capsys):
    assert main(["evidence"]) == PASSES
    page = capsys.readouterr().out
    assert page == SHIPPED.read_text(encoding="utf-8")
    assert "a licensed engineer and a competent rigger judge that" in " ".join(page.split())


def test_every_module_of_published_numbers_is_in_it():
    page = SHIPPED.read_text(encoding="utf-8")
    for path in (ROOT / "tests" / "published").glob("test_*.py"):
        assert path.relative_to(ROOT).as_posix() in page


def test_each_program_of_others_is_named():
    page = SHIPPED.read_text(encoding="utf-8")
    for name in ("FCL", "Coal", "ipctk", "MuJoCo", "PyNiteFEA", "pvlib"):
        assert f"Beside: {name}" in page or f", {name}" in page
