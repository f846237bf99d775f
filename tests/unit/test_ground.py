"""The ground the rest stands on: packages, versions, layout and the import rule."""

import ast
import inspect
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import yaml
from numpydoc.docscrape import NumpyDocString
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LINT_IMPORTS = Path(sys.executable).with_name("lint-imports")

TOP_LEVEL = {
    *("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE"),
    *("pyproject.toml", "requirements.lock", "environment.yml", "Makefile"),
    *(".ci", ".gitignore", ".pre-commit-config.yaml"),
    *("towerlift", "notebooks", "meshes", "tests"),
}

# Written in pieces, so that this file does not hold what it forbids.
FORBIDDEN = [
    *("/".join(("", folder, "")) for folder in ("work", "root", "home")),
    ".".join(("pypi", "org")),
    ".".join(("pythonhosted", "org")),
    ".".join(("registry", "npmjs", "org")),
    ".".join(("registry", "yarnpkg", "com")),
    ".".join(("deb", "debian", "org")),
    ".".join(("anaconda", "org")),
]


def by_name(lines):
    requirements = [Requirement(line) for line in lines]
    named = {canonicalize_name(each.name): each.specifier for each in requirements}
    assert len(named) == len(requirements), "a package is named twice"
    return named


def asked_for():
    project = PYPROJECT["project"]
    return by_name(project["dependencies"] + project["optional-dependencies"]["dev"])


def locked():
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    return [line for line in text.splitlines() if not line.startswith("#")]


def tracked():
    listing = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout
    names = [name for name in listing.split("\0") if name and (ROOT / name).is_file()]
    assert names, "git lists no file"
    return names


def test_conda_environment_is_the_same_set():
    listed = yaml.safe_load((ROOT / "environment.yml").read_text(encoding="utf-8"))
    *plain, last = listed["dependencies"]
    conda = by_name([*plain, *last["pip"]])
    assert str(conda.pop("python")) == PYPROJECT["project"]["requires-python"]
    assert str(conda.pop("pip")) == ""
    assert conda == asked_for() | by_name(PYPROJECT["build-system"]["requires"])


def test_lock_is_plain_pins_in_order():
    lines = locked()
    for line in lines:
        assert re.fullmatch(r"[a-z0-9-]+==[0-9a-z.]+", line), line
    assert lines == sorted(lines, key=lambda line: line.split("==")[0])
    assert len(by_name(lines)) == len(lines)


def test_lock_satisfies_the_project():
    pins = dict(line.split("==") for line in locked())
    wanted = asked_for() | by_name(PYPROJECT["build-system"]["requires"])
    for name, versions in wanted.items():
        assert name in pins, f"{name} is not locked"
        assert versions.contains(pins[name]), f"{name}=={pins[name]} is not {versions}"


def test_top_level_is_the_layout():
    assert {Path(name).parts[0] for name in tracked()} <= TOP_LEVEL


def test_no_file_names_a_machine_or_a_registry():
    found = [
        f"{name}: {forbidden}"
        for name in tracked()
        for forbidden in FORBIDDEN
        if forbidden.encode() in (ROOT / name).read_bytes()
    ]
    assert found == []


def test_every_folder_of_code_is_a_package():
    folders = {path.parent for path in (ROOT / "towerlift").rglob("*.py")}
    assert [each.name for each in sorted(folders) if not (each / "__init__.py").exists()] == []


def test_ci_runs_the_tests():
    script = ROOT / ".ci" / "run"
    assert script.stat().st_mode & 0o111, "must be executable"
    assert re.search(r"^exec make test\b", script.read_text(encoding="utf-8"), re.MULTILINE)


def exported(package):
    """Names that a package's ``__init__`` puts in ``__all__``."""
    path = package / "__init__.py"
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    for node in ast.parse(text).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return set(ast.literal_eval(node.value))
    return set()


def public_functions(path):
    """Functions of a module and methods of its classes, properties apart."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    bodies = [tree, *(node for node in tree.body if isinstance(node, ast.ClassDef))]
    for node in (node for body in bodies for node in body.body):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            marks = {ast.unparse(mark).split(".")[-1] for mark in node.decorator_list}
            if not marks & {"property", "cached_property", "overload", "setter"}:
                yield node


def unsaid(node, must):
    """What a docstring that has sections, or must have them, leaves out."""
    text = NumpyDocString(inspect.cleandoc(ast.get_docstring(node) or ""))
    if not (must or any(text[name] for name in ("Parameters", "Returns", "Raises"))):
        return []
    taken = node.args
    names = {arg.arg for arg in (*taken.posonlyargs, *taken.args, *taken.kwonlyargs)}
    names |= {arg.arg for arg in (taken.vararg, taken.kwarg) if arg}
    said = {name.strip(" *") for each in text["Parameters"] for name in each.name.split(",")}
    missing = sorted((names - {"self", "cls"}) ^ said)
    returns = ast.unparse(node.returns) if node.returns else "None"
    if returns not in ("None", "NoReturn") and not (text["Returns"] or text["Yields"]):
        missing.append("what it returns")
    return missing


def test_docstrings_are_whole():
    """In full for what a package gives out; whole or one line for all else."""
    package = ROOT / "towerlift"
    faults = []
    for path in sorted(package.rglob("*.py")):
        given_out = exported(path.parent) | exported(package)
        for node in public_functions(path):
            if missing := unsaid(node, must=node.name in given_out):
                where = f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
                faults.append(f"{where}: {', '.join(missing)}")
    assert faults == []


SAYINGS = [
    pytest.param('"""Do."""', [], id="one-line"),
    pytest.param(
        '"""Do.\n\n    Parameters\n    ----------\n    a : int\n    """', ["b"], id="half"
    ),
    pytest.param(
        '"""Do.\n\n    Parameters\n    ----------\n    a, b : int\n    """', [], id="both"
    ),
    pytest.param(
        '"""Do.\n\n    Raises\n    ------\n    E\n    """', ["a", "b"], id="raises-only"
    ),
]


@pytest.mark.parametrize(("docstring", "missing"), SAYINGS)
def test_unsaid_finds_what_is_missing(docstring, missing):
    (node,) = ast.parse(f"def do(a, *, b) -> None:\n    {docstring}\n").body
    assert unsaid(node, must=False) == missing
    (node,) = ast.parse(f"def do(a, *, b) -> int:\n    {docstring}\n").body
    assert "what it returns" in unsaid(node, must=True)


def lint_imports(folder):
    return subprocess.run(
        [LINT_IMPORTS, "--no-logo", "--no-cache"],
        cwd=folder,
        check=False,
        capture_output=True,
        text=True,
    )


def test_imports_keep_the_rule():
    run = lint_imports(ROOT)
    assert run.returncode == 0, run.stdout


BREAKS = [
    pytest.param("gaps", "from towerlift.rig import lines", id="upwards"),
    pytest.param("gaps", "from towerlift.timber import lines", id="sideways"),
    pytest.param("gaps", "def late():\n    from towerlift import plan", id="upwards-late"),
    pytest.param("mechanics", "from towerlift.findings import lines", id="arrays-only"),
    pytest.param("gaps", "import trimesh.proximity", id="trimesh"),
    pytest.param("workflow", "import pyvista", id="pyvista"),
    pytest.param("cli", "import ipywidgets", id="ipywidgets"),
    pytest.param("panels", "import anywidget", id="anywidget"),
    pytest.param("motion", "import laspy", id="laspy"),
    pytest.param("strays", "", id="not-in-the-rule"),
]
KEEPS = [
    pytest.param("rig", "from towerlift.mechanics import lines", id="downwards"),
    pytest.param("shapes", "import trimesh", id="trimesh-in-shapes"),
    pytest.param("scene", "import pyvista\nimport trimesh", id="both-in-scene"),
    pytest.param("workflow", "from towerlift.shapes import lines", id="by-way-of-shapes"),
    pytest.param("panels", "import ipywidgets", id="ipywidgets-in-panels"),
]


@pytest.fixture
def small_package(tmp_path):
    """The project's own rule over a package with nothing in it."""
    (tmp_path / "pyproject.toml").write_bytes((ROOT / "pyproject.toml").read_bytes())
    package = tmp_path / "towerlift"
    for name in (
        *("cli", "panels", "scene", "workflow", "rig", "motion", "shapes", "plan"),
        *("gaps", "mechanics", "timber", "findings"),
    ):
        (package / name).mkdir(parents=True)
        (package / name / "__init__.py").touch()
        (package / name / "lines.py").touch()
    (package / "__init__.py").touch()
    (package / "shapes" / "lines.py").write_text("import trimesh\n")
    return package


@pytest.mark.parametrize(("where", "code"), BREAKS)
def test_rule_refuses(small_package, where, code):
    (small_package / where).mkdir(exist_ok=True)
    (small_package / where / "__init__.py").write_text(code + "\n")
    run = lint_imports(small_package.parent)
    assert run.returncode == 1
    assert "BROKEN" in run.stdout
    assert f"towerlift.{where}" in run.stdout.split("Broken contracts")[1]


@pytest.mark.parametrize(("where", "code"), KEEPS)
def test_rule_allows(small_package, where, code):
    (small_package / where / "__init__.py").write_text(code + "\n")
    run = lint_imports(small_package.parent)
    assert run.returncode == 0, run.stdout
