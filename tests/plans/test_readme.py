"""The README's own words take a new user from an empty folder to a checked plan."""

import os
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BLOCK = re.compile(r"```sh\n(.*?)```", re.DOTALL)
GIVES = re.compile(r"^(?P<command>.*?)\s+# gives (?P<status>\d)$")
CHAPTER = re.compile(r"## A first plan of your own.*?(?=\n## )", re.DOTALL)


def script_of(readme: str) -> tuple[str, list[int]]:
    """The chapter's commands as one script that prints what each check gave."""
    chapter = CHAPTER.search(readme)
    assert chapter is not None
    lines = ["set -u"]
    wanted = []
    for block in BLOCK.findall(chapter.group()):
        for line in block.splitlines():
            if line.startswith(". .venv"):
                continue
            told = GIVES.match(line)
            if told is None:
                lines.append(f"{line} || exit 99")
            else:
                lines += [told["command"], 'echo "GAVE $?"']
                wanted.append(int(told["status"]))
    return "\n".join(lines), wanted


def test_ten_minutes_of_the_readme(tmp_path: Path) -> None:
    script, wanted = script_of((ROOT / "README.md").read_text(encoding="utf-8"))
    assert wanted.count(0) >= 2
    assert {1, 2} <= set(wanted)
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        ["bash", "-c", script],
        cwd=tmp_path,
        env={**os.environ, "PATH": path},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    given = [int(status) for status in re.findall(r"^GAVE (\d)$", done.stdout, re.MULTILINE)]
    assert given == wanted, done.stdout + done.stderr
    # What each unhappy check has to tell: the key without a unit, and the side that is near.
    assert "uncertainty" in done.stderr
    assert "unit missing" in done.stderr
    assert "on the north side" in done.stdout
    assert (tmp_path / "my-tower" / "why.json").exists()
