"""One small checked plan for all tests of the papers."""

import pytest

from tests.unit.documents.made import EVIL, retold
from towerlift import check_plan, new_plan, read_plan
from towerlift.documents.binder import all_papers
from towerlift.documents.edition import Edition
from towerlift.documents.press import press_pdf
from towerlift.plan.work import Person


@pytest.fixture(scope="session")
def outcome(tmp_path_factory):
    """The plan to start from, checked."""
    path = new_plan(tmp_path_factory.mktemp("papers") / "mine")
    return check_plan(read_plan(path), path.parent)


@pytest.fixture(scope="session")
def edition(outcome):
    """Its papers, metric on A4."""
    return Edition(outcome=outcome)


@pytest.fixture(scope="session")
def papers(edition):
    """Every paper by name."""
    return {paper.name: paper for paper in all_papers(edition)}


@pytest.fixture(scope="session")
def evil(outcome):
    """Papers of a plan whose names would be more than words, and their edition."""
    names = (*EVIL, "Odd \U0010fffd name")
    people = (*outcome.plan.people, *(Person(name=name, role=name) for name in names))
    told = Edition(outcome=retold(outcome, name=f"tower {EVIL[0]}", people=people))
    return all_papers(told), told


@pytest.fixture(scope="session")
def printed(edition, papers):
    """Every paper as PDF, by name."""
    return {name: press_pdf(paper, edition) for name, paper in papers.items()}
