"""The plan to start from passes every check, with something to spare."""

from towerlift.findings import Verdict
from towerlift.plan import read_plan
from towerlift.workflow import check_plan


def test_it_passes_every_check(plan_path):
    outcome = check_plan(read_plan(plan_path), plan_path.parent)
    amiss = [
        f"{found.verdict}: {found.check}, {found.subject}, {found.stage}: {found.why}"
        for found in outcome.findings
        if found.verdict is not Verdict.PASS
    ]
    assert not amiss, "\n".join(amiss)
    assert outcome.passes


def test_one_edit_makes_it_fail(plan_path, edit):
    # The base lifted into the gantry.
    edit('section = "base", to = "4.5 m"', 'section = "base", to = "5.7 m"')
    outcome = check_plan(read_plan(plan_path), plan_path.parent)
    assert not outcome.passes
    assert any(
        found.check == "clearance"
        and "gantry" in found.subject
        and found.verdict is Verdict.FAIL
        for found in outcome.findings
    )
