"""Two plans compared: every changed key is told, and no finding is lost between them."""

import csv
import io
from dataclasses import replace
from xml.etree import ElementTree

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plans.factory import tiny_plan
from towerlift.documents.comparing import (
    Became,
    Comparison,
    Side,
    compare,
    compare_findings,
    compare_plans,
)
from towerlift.documents.comparison_sheets import (
    comparison_tables,
    comparison_words,
    table_html,
    table_text,
)
from towerlift.documents.sheets import write_csv, write_xlsx
from towerlift.findings import Bound, Finding, Limit, Overrule, Verdict
from towerlift.plan.model import Plan
from towerlift.units import Dimension, unit_factor

MOST = Bound.AT_MOST


def limit(value=10.0, bound=Bound.AT_LEAST, source="made up"):
    """A limit in millimetres."""
    return Limit(value=value, unit="mm", bound=bound, source=source)


def finding(value, *, against=None, why="", subject="base", overrule=None):
    """A finding of one check and stage."""
    return Finding(
        check="gap", subject=subject, stage="L1", heel=None, where=None,
        limit=against or limit(), overrule=overrule, value=value,
        why=why or ("not worked out" if value is None else ""),
    )  # fmt: skip


def became(old, new):
    """What became of one finding, None for as it was."""
    changes, same = compare_findings([old] if old else [], [new] if new else [])
    assert len(changes) + same == 1
    return changes[0].became if changes else None


@pytest.fixture(scope="module")
def plan():
    """A plan of two bare sections."""
    return tiny_plan()


def changed(plan, path, value):
    """The plan with one key written otherwise."""
    record = plan.model_dump(mode="json")
    at = record
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return Plan.model_validate(record)


def test_a_plan_is_as_it_is(plan):
    assert compare_plans(plan, plan) == ((), ())
    assert compare_plans(plan, Plan.model_validate(plan.model_dump(mode="json"))) == ((), ())


@pytest.mark.parametrize(
    ("path", "value", "told"),
    [
        (("plumb_line", "x"), "25 mm", ("plumb_line", "x", 0.025, "m")),
        (("plumb_line", "turn"), "2 deg", ("plumb_line", "turn", 2.0, "deg")),
        (("shaft", "uncertainty"), "7 mm", ("shaft", "uncertainty", 0.007, "m")),
        (("sections", 0, "members", 1, "breadth"), "0.21 m",
         ("sections {s}, members leg 2", "breadth", 0.21, "m")),
        (("sections", 0, "mass_tolerance"), "5 %",
         ("sections {s}", "mass_tolerance", 5.0, "%")),
        (("species", 0, "density"), "800 kg/m^3", ("species {m}", "density", 800.0, "kg/m^3")),
        (("coils", 0, "breaking_force"), "99 kN", ("coils {c}", "breaking_force", 99e3, "N")),
        (("capstans", 0, "hands"), 9, ("capstans {k}", "hands", 9.0, "")),
        (("name",), "Another", ("", "name", "Another", "")),
    ],
)  # fmt: skip
def test_one_changed_key_is_the_one_that_is_told(plan, path, value, told):
    where, key, after, unit = told
    other = changed(plan, path, value)
    keys, rows = compare_plans(plan, other)
    assert not rows
    (only,) = keys
    names = {"s": plan.sections[0].name, "m": plan.species[0].name,
             "c": plan.coils[0].tag, "k": plan.capstans[0].mark}  # fmt: skip
    assert (only.where, only.key, only.unit) == (where.format(**names), key, unit)
    assert only.after == (pytest.approx(after) if isinstance(after, float) else after)
    before = plan
    for step in path:
        before = before[step] if isinstance(step, int) else getattr(before, step)
    if isinstance(before, float | int):
        scale = {"deg": unit_factor("deg", Dimension.ANGLE), "%": 0.01}.get(unit, 1.0)
        assert only.before == pytest.approx(before / scale)
        assert only.difference == pytest.approx(after - before / scale)


def test_a_point_is_told_as_one_key(plan):
    other = changed(plan, ("sections", 0, "members", 0, "end", 2), "9.5 m")
    ((only,), rows) = compare_plans(plan, other)
    assert not rows
    assert only.key == "end"
    assert str(only.after).endswith("; 9.5")
    assert only.unit == "m"


def test_a_table_that_one_plan_lacks_is_told_key_by_key_with_its_units(plan):
    weighed = {"mass": "4.8 t", "tolerance": "2 %", "by": "Orla Quay"}
    other = changed(plan, ("sections", 0, "weighed"), weighed)
    where = f"sections {plan.sections[0].name}, weighed"
    for one, two, told in ((plan, other, "after"), (other, plan, "before")):
        keys, rows = compare_plans(one, two)
        assert not rows
        assert {each.where for each in keys} == {where}
        assert {(each.key, getattr(each, told), each.unit) for each in keys} >= {
            ("mass", 4800.0, "kg"),
            ("tolerance", 2.0, "%"),
            ("by", "Orla Quay", ""),
        }
        assert all(each.difference is None for each in keys)


def test_rows_are_told_by_name_and_not_key_by_key(plan):
    record = plan.model_dump(mode="json")
    gone = record["sections"][0]["members"].pop(2)
    record["people"].append({"name": "Orla Quay", "role": "rigger"})
    keys, rows = compare_plans(plan, Plan.model_validate(record))
    assert not keys
    told = {(row.where, row.name, row.added) for row in rows}
    assert told == {
        (f"sections {plan.sections[0].name}, members", gone["mark"], False),
        ("people", "Orla Quay", True),
    }


def test_a_row_put_before_the_others_moves_none_of_them(plan):
    record = plan.model_dump(mode="json")
    record["people"].insert(0, {"name": "Orla Quay", "role": "rigger"})
    keys, rows = compare_plans(plan, Plan.model_validate(record))
    assert not keys
    assert [row.name for row in rows] == ["Orla Quay"]


def test_another_order_of_work_is_told(plan):
    stages = plan.stages
    assert len(stages) > 1
    other = plan.model_copy(update={"stages": (stages[1], stages[0], *stages[2:])})
    keys, rows = compare_plans(plan, other)
    assert not rows
    assert [(c.where, c.key) for c in keys] == [("stages", "order")]
    assert str(keys[0].before).startswith(f"{stages[0].name}, {stages[1].name}")


def test_a_step_is_told_by_what_it_does(plan):
    stage = next(s for s in plan.stages if any(step.do == "lift" for step in s.steps))
    n = plan.stages.index(stage)
    k = next(i for i, step in enumerate(stage.steps) if step.do == "lift")
    other = changed(plan, ("stages", n, "steps", k, "to"), "3.25 m")
    ((only,), _) = compare_plans(plan, other)
    assert only.where == f"stages {stage.name}, steps lift {stage.steps[k].section}"
    assert (only.key, only.after, only.unit) == ("to", 3.25, "m")


@given(data=st.data())
def test_told_backwards_it_is_the_same_told_forwards(plan, data):
    record = plan.model_dump(mode="json")
    members = record["sections"][0]["members"]
    if data.draw(st.booleans()):
        members.pop(data.draw(st.integers(0, len(members) - 1)))
    for member in members:
        size = data.draw(st.integers(150, 250))
        member["breadth"] = f"{size} mm"
    other = Plan.model_validate(record)
    there, back = compare_plans(plan, other), compare_plans(other, plan)
    assert {(c.where, c.key, c.before, c.after) for c in there[0]} == {
        (c.where, c.key, c.after, c.before) for c in back[0]
    }
    assert {(r.where, r.name, r.added) for r in there[1]} == {
        (r.where, r.name, not r.added) for r in back[1]
    }


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        (finding(12), finding(12), None),
        (finding(12), finding(12 + 1e-7), None),
        (finding(12), finding(13), Became.BETTER),
        (finding(12), finding(11), Became.WORSE),
        (finding(12), finding(9.99), Became.FAILS),
        (finding(12), finding(None), Became.OPEN),
        (finding(9), finding(None), Became.OPEN),
        (finding(9), finding(8), Became.WORSE),
        (finding(9), finding(10), Became.CURED),
        (finding(None), finding(10), Became.CURED),
        (finding(None), finding(9), Became.FAILS),
        (finding(None), finding(None), None),
        (None, finding(9), Became.NEW),
        (finding(9), None, Became.GONE),
        # At most: a smaller value is the better one.
        (finding(5, against=limit(bound=MOST)), finding(4, against=limit(bound=MOST)),
         Became.BETTER),
        (finding(5, against=limit(bound=MOST)), finding(11, against=limit(bound=MOST)),
         Became.FAILS),
        # Only the limit moved: that is no better work, and no cure.
        (finding(12), finding(12, against=limit(8)), Became.LIMIT),
        (finding(12), finding(12, against=limit(11)), Became.LIMIT),
        (finding(9), finding(9, against=limit(8)), Became.RELAXED),
        (finding(9), finding(9.5, against=limit(8)), Became.RELAXED),
        (finding(9), finding(11, against=limit(8)), Became.CURED),
        # Value and margin both moved the same way.
        (finding(12), finding(14, against=limit(11)), Became.BETTER),
        (finding(12), finding(11, against=limit(10.5)), Became.WORSE),
        (finding(12), finding(11, against=limit(5)), Became.LIMIT),
    ],
)  # fmt: skip
def test_what_became_of_a_finding(old, new, what):
    assert became(old, new) is what


def test_an_overrule_is_no_cure():
    allowed = Overrule(limit=limit(8), by="Osric Fenwick, engineer", note="sum 14")
    assert became(finding(9), finding(9, overrule=allowed)) is Became.RELAXED
    assert became(finding(12), finding(12, overrule=allowed)) is Became.LIMIT
    assert became(finding(None), finding(9, overrule=allowed)) is Became.RELAXED


values = st.one_of(st.none(), st.floats(0, 30))
reasons = st.sampled_from(["rope {} at 3", "anchor {} at 4", "", "block {}"])


@st.composite
def some_findings(draw):
    """Findings of few kinds, several of a kind alike."""
    return [
        finding(
            value,
            subject=draw(st.sampled_from(["base", "spire"])),
            against=limit(draw(st.sampled_from([5.0, 10.0]))),
            why=draw(reasons).format(draw(st.integers(0, 9))),
        )
        for value in draw(st.lists(values, max_size=8))
    ]


@given(before=some_findings(), after=some_findings())
def test_every_finding_is_told_once_or_stayed(before, after):
    changes, same = compare_findings(before, after)
    told_before = [id(c.before) for c in changes if c.before is not None]
    told_after = [id(c.after) for c in changes if c.after is not None]
    assert len(set(told_before)) == len(told_before) == len(before) - same
    assert len(set(told_after)) == len(told_after) == len(after) - same
    failing = [f for f in after if f.verdict is Verdict.FAIL]
    passed = [f for f in before if f.verdict is Verdict.FAIL]
    if failing and not passed:
        news = {Became.FAILS, Became.NEW}
        loud = [c for c in changes if c.became in news and c.finding.verdict is Verdict.FAIL]
        assert len(loud) == len(failing)
    order = list(Became)
    ranks = [order.index(c.became) for c in changes]
    assert ranks == sorted(ranks)


@given(findings=some_findings())
def test_nothing_changed_says_so(findings):
    assert compare_findings(findings, list(findings)) == ((), len(findings))


def test_findings_of_one_kind_are_told_apart_by_their_reason():
    before = [finding(12, why="rope 1 at 3.5 m"), finding(15, why="anchor 4")]
    after = [finding(14, why="anchor 5"), finding(13, why="rope 2 at 3.9 m")]
    changes, _ = compare_findings(before, after)
    pairs = {
        (c.before.why[:4], c.after.why[:4], c.became)
        for c in changes
        if c.before is not None and c.after is not None
    }
    assert pairs == {("rope", "rope", Became.BETTER), ("anch", "anch", Became.WORSE)}


@pytest.fixture(scope="module")
def wild(plan):
    """A comparison full of words that a spreadsheet or a browser would run."""
    nasty = '=HYPERLINK("x") <script>alert(1)</script>'
    other = changed(plan, ("name",), nasty)
    keys, rows = compare_plans(plan, other)
    side = Side(name=nasty, content="0f3a", counts=(1, 0, 3))
    changes, same = compare_findings(
        [finding(12, subject=nasty)], [finding(9, subject=nasty, why="@cmd\x07")]
    )
    return Comparison(
        before=side, after=replace(side, counts=(0, 0, 4)), keys=keys, rows=rows,
        findings=changes, n_same=same,
    )  # fmt: skip


def test_tables_carry_the_numbers(wild):
    findings, keys, rows = comparison_tables(wild)
    assert findings.rows[0][0] == "fails now"
    cells = dict(zip(findings.heads, findings.rows[0], strict=True))
    assert (cells["verdict before"], cells["verdict after"]) == ("pass", "FAIL")
    assert (cells["value before"], cells["value after"]) == (12, 9)
    assert (cells["margin before"], cells["margin after"]) == (2, -1)
    assert (cells["margin grew by"], cells["unit"]) == (-3, "mm")
    assert keys.rows[0][:2] == ("the plan", "name")
    assert rows.rows == ()
    assert "1 fails now" in " ".join(comparison_words(wild))


def test_nothing_in_a_table_is_run(wild, tmp_path):
    tables = comparison_tables(wild)
    write_xlsx(tables, tmp_path / "changes.xlsx")
    book = openpyxl.load_workbook(tmp_path / "changes.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert any("HYPERLINK" in str(cell.value) for cell in cells)
    assert all(cell.data_type != "f" for cell in cells)
    write_csv(tables[1], tmp_path / "keys.csv")
    text = (tmp_path / "keys.csv").read_text(encoding="utf-8-sig")
    for row in csv.reader(io.StringIO(text)):
        assert not any(cell.startswith(("=", "@", "+", "-1-")) for cell in row)
    for table in tables:
        html = table_html(table)
        assert "<script>" not in html
        ElementTree.fromstring(html.replace("<br>", "<br/>"))
        assert "\x07" not in table_text(table)


def test_the_example_told_from_its_checks(outcome):
    same = compare(outcome, outcome)
    assert not same.keys
    assert not same.rows
    assert not same.findings
    assert same.n_same == len(outcome.findings)
    assert same.after.verdict == "passes"
    assert same.before.content == same.after.content
    without = replace(outcome, findings=())
    assert compare(outcome, without).after.verdict == "not evaluated"
    assert compare(without, outcome).count(Became.NEW) == len(outcome.findings)
