"""The command line: exit codes, JSON, and a page that a person can read."""

import json
import os
import subprocess
import sys
from dataclasses import replace

import pytest
from jsonschema import validators  # type: ignore[import-untyped]

from towerlift import check_plan, new_plan, read_plan
from towerlift.cli import FAILS, PASSES, UNREADABLE, WIDTH, as_text, main
from towerlift.findings import Bound, Finding, Limit, Overrule

KEYS = {
    "check", "subject", "stage", "heel_m", "value", "unit", "limit", "bound", "margin",
    "verdict", "where", "why", "remedy", "source", "overrule",
}  # fmt: skip
ODD = "Tour d’Ébène 塔楼 Ω — “neuf”"
LIMIT = Limit(value=45.5, unit="mm", bound=Bound.AT_LEAST, source="budget of this height")
FALLS_SHORT = Finding(
    check="clearance",
    subject="belfry: north foot (brace foot) against shaft: ledge: L1",
    stage="L2",
    heel=9.1,
    where=(0.0, 2.9, 12.0),
    limit=LIMIT,
    value=11.0,
    why="falls short on the north side; " + "and so on, " * 30,
    remedy=("pare 35 mm off north foot", "move the plumb line 35 mm south"),
)


@pytest.fixture
def plan_path(tmp_path):
    return new_plan(tmp_path / "mine")


@pytest.fixture(scope="module")
def outcome(tmp_path_factory):
    path = new_plan(tmp_path_factory.mktemp("cli"))
    return check_plan(read_plan(path), path.parent)


def change(path, *pairs):
    text = path.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")


def test_a_plan_that_passes_gives_0_and_its_json(plan_path, capsys):
    written = plan_path.parent / "findings.json"
    assert main(["check", str(plan_path), "--json", str(written)]) == PASSES
    page = capsys.readouterr().out
    assert "VERDICT: all" in page
    assert "DO NOT LIFT" not in page
    record = json.loads(written.read_text(encoding="utf-8"))
    assert set(record) == {"plan", "towerlift", "findings"}
    assert record["plan"] == "Practice tower (invented)"
    for finding in record["findings"]:
        assert set(finding) == KEYS
        assert finding["verdict"] == "pass"
        assert finding["bound"] in ("at least", "at most")
        assert finding["where"] is None or len(finding["where"]) == 3
        assert isinstance(finding["remedy"], list)
        value, limit, margin = finding["value"], finding["limit"], finding["margin"]
        spare = value - limit if finding["bound"] == "at least" else limit - value
        assert margin == pytest.approx(spare)


def test_a_plan_that_fails_gives_1_and_says_what_to_do(plan_path, capsys):
    change(plan_path, ('shortest = "0.4 m"', 'shortest = "1.2 m"'))
    assert main(["check", str(plan_path)]) == FAILS
    page = capsys.readouterr().out
    assert "VERDICT: DO NOT LIFT on this plan: 1 fail, 0 not evaluated" in page
    assert page.index("FAIL") < page.index("PASS")
    assert "remedy 1: " in page
    assert "limit by: " in page


def test_an_overrule_is_in_the_json_and_on_the_page(plan_path, capsys):
    row = (
        '\n[[overrules]]\nlimit = "bury"\nsubject = "cap"\nvalue = "2 m"\n'
        'by = "Tobin Vale"\nnote = "sum of 3 May:\\ntwo metres hold"\n'
    )
    plan_path.write_text(plan_path.read_text(encoding="utf-8") + row, encoding="utf-8")
    written = plan_path.parent / "findings.json"
    assert main(["check", str(plan_path), "--json", str(written)]) == PASSES
    page = capsys.readouterr().out
    assert "OVERRULED by Tobin Vale, engineer (usual limit 2.25 m)" in page
    findings = json.loads(written.read_text(encoding="utf-8"))["findings"]
    (bury,) = [f for f in findings if f["overrule"]]
    assert bury["overrule"] == {
        "by": "Tobin Vale, engineer",
        "note": "sum of 3 May:\ntwo metres hold",
        "limit": 2.0,
    }
    assert bury["limit"] == 2.25
    assert bury["margin"] == pytest.approx(bury["value"] - 2.0)


def test_names_in_any_script_print(plan_path, capsys):
    change(plan_path, ("Practice tower (invented)", ODD), ("Tobin Vale", "Ñandú 守"))
    assert main(["check", str(plan_path)]) == PASSES
    assert ODD in capsys.readouterr().out


def test_a_terminal_that_knows_ascii_alone_still_gets_its_page(plan_path):
    change(plan_path, ("Practice tower (invented)", ODD))
    run = subprocess.run(
        [sys.executable, "-m", "towerlift.cli", "check", str(plan_path)],
        capture_output=True,
        check=False,
        env=os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    )
    assert run.returncode == PASSES, run.stderr
    assert b"VERDICT: all" in run.stdout
    assert b"\\u5854" in run.stdout


@pytest.mark.parametrize("name", ["absent.toml", "."])
def test_no_plan_there(tmp_path, capsys, name):
    assert main(["check", str(tmp_path / name)]) == UNREADABLE
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.strip()
    assert "Traceback" not in printed.err


def test_every_problem_of_a_plan_is_told_at_once(plan_path, capsys):
    change(
        plan_path,
        ('height = "12 m"', 'height = "12"'),
        ('wall_head = "10 m"', 'wall_head = "10 kg"'),
    )
    assert main(["check", str(plan_path)]) == UNREADABLE
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "plan.toml: 2 problem(s)" in printed.err
    assert "height" in printed.err
    assert "wall_head" in printed.err


def test_an_unknown_limit_cannot_be_read(plan_path, capsys):
    row = '\n[[limits]]\nlimit = "burry"\nvalue = "2 m"\nsource = "Tobin Vale"\n'
    plan_path.write_text(plan_path.read_text(encoding="utf-8") + row, encoding="utf-8")
    assert main(["check", str(plan_path)]) == UNREADABLE
    assert 'did you mean "bury"?' in capsys.readouterr().err


def test_findings_that_cannot_be_written_are_still_printed(plan_path, capsys):
    where = plan_path.parent / "no such folder" / "out.json"
    assert main(["check", str(plan_path), "--json", str(where)]) == UNREADABLE
    printed = capsys.readouterr()
    assert "VERDICT" in printed.out
    assert "out.json" in printed.err


@pytest.mark.parametrize("words", [[], ["chek"], ["check"], ["check", "a", "b"]], ids=str)
def test_words_that_are_no_command(words, capsys):
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == UNREADABLE
    assert "usage" in capsys.readouterr().err


def test_new_writes_a_plan_and_says_what_next(tmp_path, capsys):
    assert main(["new", str(tmp_path / "mine")]) == PASSES
    assert (tmp_path / "mine" / "plan.toml").is_file()
    assert "towerlift check" in capsys.readouterr().out


def test_new_writes_over_nothing(tmp_path, capsys):
    (tmp_path / "plan.toml").write_text("mine", encoding="utf-8")
    assert main(["new", str(tmp_path)]) == UNREADABLE
    assert "plan.toml" in capsys.readouterr().err
    assert (tmp_path / "plan.toml").read_text(encoding="utf-8") == "mine"


def test_the_schema_is_one(capsys):
    assert main(["schema"]) == PASSES
    schema = json.loads(capsys.readouterr().out)
    validators.validator_for(schema).check_schema(schema)
    assert "sections" in schema["properties"]


def test_a_failure_is_told_in_order(outcome):
    page = as_text(replace(outcome, findings=(FALLS_SHORT, *outcome.findings)))
    told = [
        "VERDICT: DO NOT LIFT on this plan: 1 fail, 0 not evaluated,",
        "* clearance, stage L2: belfry: north foot (brace foot) against shaft: ledge: L1",
        "11 mm, at least 45.5 mm (34.5 short) at heel 9.10 m",
        "why: falls short on the north side",
        "remedy 1: pare 35 mm off north foot",
        "remedy 2: move the plumb line 35 mm south",
        "limit by: budget of this height",
        "PASS",
        "VERDICT",
    ]
    places = [page.index(told[0])]
    for words in told[1:]:
        places.append(page.index(words, places[-1] + 1))
    assert places == sorted(places)


def test_what_was_not_evaluated_is_never_called_a_pass(outcome):
    unknown = replace(FALLS_SHORT, value=None, why="the engine could not certify the gap")
    page = as_text(replace(outcome, findings=(unknown,)))
    assert "NOT EVALUATED (never a pass)" in page
    assert "not evaluated; the limit is at least 45.5 mm" in page
    assert "0 fail, 1 not evaluated, 0 pass" in page
    assert "all" not in page.partition("VERDICT")[2].splitlines()[0].split()


def test_nothing_checked_is_said(outcome):
    assert "NOTHING WAS CHECKED" in as_text(replace(outcome, findings=()))


def test_an_overrule_is_told_beside_the_finding(outcome):
    held = replace(
        FALLS_SHORT,
        overrule=Overrule(
            limit=replace(LIMIT, value=10.0), by="Tobin Vale, engineer", note="watched"
        ),
    )
    page = " ".join(as_text(replace(outcome, findings=(held,))).split())
    assert "11 mm, at least 10 mm (1 to spare)" in page
    assert "OVERRULED by Tobin Vale, engineer (usual limit 45.5 mm): watched" in page


def test_no_name_can_forge_a_verdict(outcome):
    forged = replace(FALLS_SHORT, subject="x\nVERDICT: all 61 findings pass\x1b[2J\u202e")
    page = as_text(replace(outcome, findings=(forged,)))
    assert "\x1b" not in page
    assert "\u202e" not in page
    assert not any(line.startswith("VERDICT: all") for line in page.splitlines())


@pytest.mark.parametrize("in_full", [False, True])
def test_no_line_is_longer_than_a_page_is_wide(outcome, in_full):
    long = replace(FALLS_SHORT, subject="belfry: " + "very " * 40 + "long name")
    page = as_text(replace(outcome, findings=(long, *outcome.findings)), in_full=in_full)
    assert max(len(line) for line in page.splitlines()) <= WIDTH


def test_all_prints_passes_in_full(outcome):
    assert "why: " in as_text(outcome, in_full=True)
    assert "why: " not in as_text(outcome)
    assert "rules kept" in as_text(outcome)
    assert "--all prints every pass in full" in as_text(outcome)
