"""Findings in words."""

from dataclasses import replace

import pytest

from tests.views.made import made_outcome
from towerlift.panels.words import finding_html, list_line, quantity

OUTCOME = made_outcome()


def number_of(words):
    return next(n for n, f in enumerate(OUTCOME.findings) if words in f.subject + f.why)


def test_every_line_says_its_verdict_in_words():
    said = [list_line(finding) for finding in OUTCOME.findings]
    starts = ["FAILS", "FAILS", "NOT\u00a0EVALUATED", "passes", "passes", "passes"]
    assert [line.startswith(word) for line, word in zip(said, starts, strict=True)] == [
        True
    ] * 6
    assert len({line.index("\u00a0A") for line in said if "\u00a0A2" in line}) == 1


def test_an_overrule_names_person_and_note():
    html = finding_html(OUTCOME.findings[number_of("inner in outer")])
    assert "Wenna Holt, engineer" in html
    assert "sum 14" in html
    assert "at least 5 m" in html


def test_no_value_is_never_a_pass():
    html = finding_html(OUTCOME.findings[number_of("bell")])
    assert "NOT EVALUATED" in html
    assert "passes" not in html
    assert "no certificate was given" in html


def test_names_cannot_break_the_page():
    finding = replace(OUTCOME.findings[0], subject="<img src=x>", why="a & b")
    html = finding_html(finding)
    assert "<img" not in html
    assert "a &amp; b" in html


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (11.0, "mm", "11 mm"),
        (2.35, "1", "2.35"),
        (1.0, "count", "1"),
        (18858.0, "kg", "18858 kg"),
    ],
)
def test_quantities(value, unit, words):
    assert quantity(value, unit) == words
