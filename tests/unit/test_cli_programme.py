"""The programme on the command line: exit codes, page and JSON."""

import json

import pytest

from towerlift import new_plan
from towerlift.cli import FAILS, PASSES, UNREADABLE, WIDTH, main


@pytest.fixture
def plan_path(tmp_path):
    return new_plan(tmp_path / "mine")


def change(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_plan_whose_dates_hold_gives_0_and_its_json(plan_path, tmp_path, capsys):
    record = tmp_path / "programme.json"
    assert main(["programme", str(plan_path), "--json", str(record)]) == PASSES
    page = capsys.readouterr().out
    assert "It does not replace a licensed engineer" in page
    assert "The dates keep every rule." in page
    assert "no shorter programme exists by these rules" in page
    assert all(len(line) <= WIDTH for line in page.splitlines())
    told = json.loads(record.read_text(encoding="utf-8"))
    assert told["proved_shortest"] is True
    assert told["crossings"] == []
    names = {each["name"] for each in told["bookings"]}
    assert names == {"S1", "S2", "S3", "S4", "frame the cap"}
    assert all(each["reason"] for each in told["bookings"])


def test_a_clash_gives_1_and_the_least_change(plan_path, capsys):
    # The framers stay on the floor after the cap has begun to move over it.
    change(
        plan_path, "starts = 2027-05-12T09:00:00-02:00", "starts = 2027-05-11T15:00:00-02:00"
    )
    assert main(["programme", str(plan_path)]) == FAILS
    page = capsys.readouterr().out
    assert "The dates break" in page
    assert "The least change that keeps every rule" in page
    assert "frame the cap" in page


def test_rules_that_clash_give_1_and_are_named(plan_path, capsys):
    change(plan_path, 'works_from = "07:30"\n', 'works_from = "08:00"\n')
    change(plan_path, 'works_to = "18:30"\n', 'works_to = "09:00"\n')
    assert main(["programme", str(plan_path)]) == FAILS
    assert "no programme keeps these rules together" in capsys.readouterr().out


def test_planned_again_from_a_moment(plan_path, capsys):
    words = ["programme", str(plan_path), "--from", "2027-05-11T12:00-02:00"]
    assert main(words) == PASSES
    page = " ".join(capsys.readouterr().out.split())
    assert "it has begun, or is done" in page


@pytest.mark.parametrize("moment", ["noon", "2027-05-11", "2027-05-11T12:00"])
def test_a_moment_without_its_offset_is_refused(plan_path, capsys, moment):
    with pytest.raises(SystemExit) as stop:
        main(["programme", str(plan_path), "--from", moment])
    assert stop.value.code == UNREADABLE
    assert "offset" in capsys.readouterr().err


def test_a_ring_cannot_be_read(plan_path, capsys):
    change(
        plan_path,
        'sheltered_by = "deck"\n',
        'sheltered_by = "deck"\nafter = ["S3"]\nbefore = ["S2"]\n',
    )
    assert main(["programme", str(plan_path)]) == UNREADABLE
    assert "wait for each other" in capsys.readouterr().err
