"""The command that writes the papers."""

import pytest

from towerlift import cli, new_plan
from towerlift.documents import binder
from towerlift.documents.summary import client_summary


@pytest.fixture
def quick(outcome, monkeypatch):
    """The command without the check, and with one paper only."""
    monkeypatch.setattr(cli, "check_plan", lambda plan, folder: outcome)
    monkeypatch.setattr(binder, "PAPERS", (client_summary,))
    monkeypatch.setattr(binder, "drawings_of", lambda edition, benches: [])


def test_papers_are_written(quick, tmp_path, capsys):
    plan = new_plan(tmp_path / "mine")
    into = tmp_path / "papers"
    asked = ["documents", str(plan), "--into", str(into), "--page", "Letter", "--units", "feet"]
    assert cli.main(asked) == 0
    assert {path.name for path in into.iterdir()} == {
        "summary.pdf", "summary.html", "lists.xlsx", "drawings",
    }  # fmt: skip
    assert "summary.pdf" in capsys.readouterr().out


def test_papers_there_are_not_written_over_unasked(quick, tmp_path, capsys):
    plan, into = new_plan(tmp_path / "mine"), tmp_path / "papers"
    asked = ["documents", str(plan), "--into", str(into)]
    assert cli.main(asked) == 0
    assert cli.main(asked) == 2
    assert "--replace" in capsys.readouterr().err
    assert cli.main([*asked, "--replace"]) == 0


def test_a_plan_that_cannot_be_read_gives_no_papers(quick, tmp_path, capsys):
    path = tmp_path / "plan.toml"
    path.write_text("version = 1\n", encoding="utf-8")
    assert cli.main(["documents", str(path), "--into", str(tmp_path / "papers")]) == 2
    assert not (tmp_path / "papers").exists()
    assert "plan.toml" in capsys.readouterr().err
