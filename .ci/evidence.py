"""Writes what `towerlift evidence` prints, from the tests themselves.

Listed are the tests that hold the package to numbers that others printed, and those that
hold it to programs of others. A test is told by its name; its source by its module.
"""

import ast
import sys
import textwrap
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SHIPPED = ROOT / "towerlift" / "evidence.txt"
WIDTH = 96
WITNESSES = {
    "coal": "Coal",
    "fcl": "FCL",
    "ipctk": "ipctk",
    "mujoco": "MuJoCo",
    "pvlib": "pvlib",
    "Pynite": "PyNiteFEA",
    "scipy.optimize": "the optimisers of SciPy",
}
OPENING = (
    "What holds towerlift from outside: numbers that others printed, and programs of others "
    "beside ours. Everything below is a test; `make test` runs it, and `make slow` what is "
    "marked slow. Where a source was read at second hand the test says so. That these agree "
    "does not show that a plan is right or safe: a licensed engineer and a competent rigger "
    "judge that."
)


def evidence() -> str:
    """The whole text."""
    published, beside = [], []
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        others = _witnesses(tree)
        if path.parent.name == "published":
            published.append(_told(path, tree, others))
        elif others:
            beside.append(_told(path, tree, others))
    parts = [
        textwrap.fill(OPENING, WIDTH),
        _headed("Numbers that others printed", published),
        _headed("Programs of others", beside),
    ]
    return "\n\n".join(parts) + "\n"


def _headed(heading: str, told: list[tuple[int, str]]) -> str:
    tests = sum(count for count, _ in told)
    first = f"{heading}: {tests} tests in {len(told)} files"
    return "\n\n".join([f"{first}\n{'=' * len(first)}", *(text for _, text in told)])


def _told(path: Path, tree: ast.Module, others: list[str]) -> tuple[int, str]:
    title, _, rest = (ast.get_docstring(tree) or "").partition("\n\n")
    lines = [path.relative_to(ROOT).as_posix(), *_filled(title)]
    if others:
        lines += _filled(f"Beside: {', '.join(others)}.")
    for paragraph in rest.split("\n\n"):
        lines += _filled(paragraph)
    tests = list(_tests(tree))
    for name, said, slow in tests:
        words = name.removeprefix("test_").replace("_", " ") + (" (slow)" if slow else "")
        lines += _filled(words, "  - ")
        if said:
            lines += _filled(said, "      ")
    return len(tests), "\n".join(lines)


def _filled(text: str, start: str = "  ") -> list[str]:
    return textwrap.wrap(
        " ".join(text.split()),
        WIDTH,
        initial_indent=start,
        subsequent_indent=" " * len(start),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _tests(tree: ast.Module) -> Iterator[tuple[str, str, bool]]:
    """Name of each test, what it says of itself, and whether it is a slow one."""
    all_slow = any(
        isinstance(node, ast.Assign)
        and any(isinstance(t, ast.Name) and t.id == "pytestmark" for t in node.targets)
        and "mark.slow" in ast.unparse(node.value)
        for node in tree.body
    )
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            marks = " ".join(ast.unparse(each) for each in node.decorator_list)
            slow = all_slow or "mark.slow" in marks or "mark.fuzz" in marks
            yield node.name, ast.get_docstring(node) or "", slow


def _witnesses(tree: ast.Module, deep: bool = True) -> list[str]:
    """Programs of others that a module imports, or that its helpers in the tests do."""
    found: set[str] = set()
    for node in ast.walk(tree):
        names = []
        if isinstance(node, ast.Import):
            names = [each.name for each in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        for name in names:
            for witness, called in WITNESSES.items():
                if name == witness or name.startswith(f"{witness}."):
                    found.add(called)
            helper = ROOT / (name.replace(".", "/") + ".py")
            if deep and name.startswith("tests.") and helper.exists():
                inner = ast.parse(helper.read_text(encoding="utf-8"))
                found.update(_witnesses(inner, deep=False))
    return sorted(found)


if __name__ == "__main__":
    SHIPPED.write_text(evidence(), encoding="utf-8")
    sys.stdout.write(f"{SHIPPED.relative_to(ROOT)} written\n")
