"""Timber, moisture and trial assembly as a plan file writes them."""

import pytest

from towerlift.errors import PlanError
from towerlift.plan import read_plan
from towerlift.plan.starting import new_plan

OAK = '[[species]]\nname = "oak"\n'


def changed(tmp_path, *pairs, files=None):
    path = new_plan(tmp_path / "plan")
    text = path.read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    for name, content in (files or {}).items():
        (path.parent / name).write_text(content, encoding="utf-8")
    return path


def test_a_plan_may_say_nothing_of_its_timber(tmp_path):
    plan = read_plan(new_plan(tmp_path / "plan"))
    assert all(species.timber is None for species in plan.species)
    assert all(member.cut == "unknown" for s in plan.sections for member in s.members)
    assert all(section.as_built == () for section in plan.sections)


def test_timber_moisture_and_cut_are_read(tmp_path):
    said = 'timber = "European oak"\nmoisture = "25 %"\nmoisture_wettest = "29 %"\n'
    plan = read_plan(changed(tmp_path, (OAK, OAK + said + 'cut = "boxed heart"\n')))
    oak = next(s for s in plan.species if s.name == "oak")
    assert (oak.timber, oak.cut) == ("European oak", "boxed heart")
    assert (oak.moisture, oak.moisture_wettest) == pytest.approx((0.25, 0.29))


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ('timber = "English oak"\n', "nearest"),
        ('moisture = "25 %"\n', "moisture_wettest"),
        ('cut = "riven"\n', "cut"),
        ('moisture = "25"\nmoisture_wettest = "29 %"\n', "unit missing"),
    ],
)
def test_what_cannot_be_is_named(tmp_path, said, wanted):
    with pytest.raises(PlanError) as caught:
        read_plan(changed(tmp_path, (OAK, OAK + said)))
    assert "species" in str(caught.value)
    assert wanted in str(caught.value)


SECTION = "[[sections]]\n"
HEADS = "s [m],north [mm],diagonals [mm],twist [mrad]\n"


def test_a_trial_assembly_may_be_a_table(tmp_path):
    path = changed(
        tmp_path,
        (SECTION, SECTION + 'as_built = "as-built.csv"\n'),
        files={"as-built.csv": HEADS + "0,2,0,0\n3,-4,6,1.5\n"},
    )
    rows = read_plan(path).sections[0].as_built
    assert [row.s for row in rows] == [0.0, 3.0]
    assert rows[1].north == pytest.approx(-0.004)
    assert rows[1].diagonals == pytest.approx(0.006)
    assert rows[1].twist == pytest.approx(0.0015)


def test_measured_heights_rise(tmp_path):
    path = changed(
        tmp_path,
        (SECTION, SECTION + 'as_built = "as-built.csv"\n'),
        files={"as-built.csv": HEADS + "3,2,0,0\n0,-4,6,1.5\n"},
    )
    with pytest.raises(PlanError, match="lowest first"):
        read_plan(path)
