"""The programme on the command line: exit codes, page and JSON."""

import json
from pathlib import Path

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


CALL = ("--call", "L2", "--wind", "3 m/s", "--gust", "4.5 m/s")


@pytest.fixture(scope="module")
def example():
    folder = Path(__file__).parents[2] / "meshes" / "tidewatch"
    return folder / "plan-corrected.toml", (
        *("--forecast", str(folder / "forecast.csv"), "--record", str(folder / "hours.csv")),
    )


@pytest.mark.parametrize(
    ("clock", "more", "told"),
    [
        ("08:00", (), (PASSES, "GO: fast on the belfry needles by 11:49")),
        ("13:00", (), (FAILS, "WAIT until 07:30 on 03 May")),
        ("14:00", ("--heel", "5 m"), (FAILS, "COME BACK: the nearest lock is below, 62 min")),
        # 15.24 m is in the haul, and what is left is to land it: by 15:01.
        ("14:00", ("--heel", "50 ft"), (PASSES, "GO: fast on the belfry needles by 15:01")),
        ("14:00", ("--heel", "20 m"), (FAILS, "NOT EVALUATED: heel 20 m is outside the haul")),
        ("08:00", ("--wind", "9 m/s", "--gust", "9 m/s"), (FAILS, "WAIT")),
    ],
)
def test_the_call_gives_0_to_go_and_1_else(example, capsys, clock, more, told):
    (path, weather), (status, words) = example, told
    at = f"2027-05-01T{clock}-02:00"
    assert main(["programme", str(path), *CALL, "--at", at, *weather, *more]) == status
    page = " ".join(capsys.readouterr().out.split())
    assert words in page
    assert "It does not replace a licensed engineer" in page


def test_a_call_without_weather_is_not_evaluated_and_says_why(example, tmp_path, capsys):
    path, _ = example
    record = tmp_path / "call.json"
    words = ["--call", "L2", "--at", "2027-05-01T08:00-02:00", "--json", str(record)]
    assert main(["programme", str(path), *words]) == FAILS
    page = capsys.readouterr().out
    assert "NOT EVALUATED: there is no forecast" in page
    assert "no record of past years was given" in page
    assert all(len(line) <= WIDTH for line in page.splitlines())
    told = json.loads(record.read_text(encoding="utf-8"))
    assert told["call"] == "not evaluated"
    assert "no gust was measured at the wall head" in told["not_evaluated"]
    assert told["turning_point_m"] == pytest.approx(12.07, abs=0.005)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--call", "L2"), "--call needs --at"),
        (("--call", "L2", "--at", "2027-05-01T08:00-02:00", "--forecast", "no.csv"), "no.csv"),
    ],
)
def test_a_call_that_cannot_be_read_gives_2(example, capsys, words, said):
    assert main(["programme", str(example[0]), *words]) == UNREADABLE
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--heel", "5 m", "--gust", "3 m/s"), "--heel, --gust: read only with --call"),
        (("--at", "2027-05-01T11:30-02:00"), "--at: read only with --call"),
        (
            (*CALL, "--at", "2027-05-01T11:30-02:00", "--draws", "100", "--into", "there"),
            "--call makes no programme: leave out --into, --draws",
        ),
    ],
)
def test_an_option_that_would_not_be_read_is_refused(example, capsys, words, said):
    assert main(["programme", str(example[0]), *words]) == UNREADABLE
    assert said in capsys.readouterr().err


@pytest.mark.parametrize("words", [("--heel", "5"), ("--wind", "5 m"), ("--gust", "much")])
def test_a_measure_without_its_unit_is_refused(example, capsys, words):
    with pytest.raises(SystemExit) as stop:
        main(["programme", str(example[0]), "--call", "L2", *words])
    assert stop.value.code == UNREADABLE
    assert words[0] in capsys.readouterr().err
