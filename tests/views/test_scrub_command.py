"""The command that writes the view as one file."""

from towerlift import cli
from towerlift.plan import new_plan


def test_it_writes_one_file_and_says_where(starter_outcome, tmp_path, monkeypatch, capsys):
    plan = new_plan(tmp_path / "plan")
    monkeypatch.setattr(cli, "check_plan", lambda *_: starter_outcome)
    file = tmp_path / "view.html"
    assert cli.main(["view", str(plan), "--html", str(file), "--units", "feet"]) == 0
    text = file.read_text(encoding="utf-8")
    assert text.startswith("<!doctype html>")
    assert '"unit": "ft"' in text
    said = capsys.readouterr().out
    assert "view.html" in said
    assert "without a network" in said


def test_an_unreadable_plan_writes_nothing(tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text("version = 1\n", encoding="utf-8")
    file = tmp_path / "view.html"
    assert cli.main(["view", str(plan), "--html", str(file)]) == 2
    assert not file.exists()
    assert "plan.toml" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_said(starter_outcome, tmp_path, monkeypatch, capsys):
    plan = new_plan(tmp_path / "plan")
    monkeypatch.setattr(cli, "check_plan", lambda *_: starter_outcome)
    assert cli.main(["view", str(plan), "--html", str(tmp_path / "none" / "v.html")]) == 2
    assert "v.html" in capsys.readouterr().err
