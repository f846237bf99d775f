"""Reading a plan: the good one, its files, encodings and versions."""

import pytest

from towerlift.errors import PlanError
from towerlift.plan import PLAN_VERSION, read_plan, reading

TABLES = ("members.csv", "survey.csv", "lines.csv", "coils.csv", "capstans.csv")


def only(found):
    assert len(found) == 1, "\n".join(found)
    return found[0]


def test_the_good_plan_is_read_in_si(plan_path):
    plan = read_plan(plan_path)
    base, cap = plan.sections
    assert (base.name, base.length, base.swelling) == ("base", 4.5, 0.004)
    assert (len(base.members), len(cap.members)) == (26, 24)
    assert base.members[0].start == (1.65, 1.65, 0.0)
    assert base.members[0].breadth == 0.2
    assert plan.coils[7].breaking_force == 95e3
    assert plan.capstans[0].efficiency == 0.85
    assert plan.shaft.survey[5].z == 10.0
    assert [line.tackle for line in plan.lifts[1].lines][:2] == ["NE1", "NE2"]
    assert plan.stages[0].steps[5].do == "lift"


def test_an_absolute_path_will_do(plan_path):
    assert read_plan(plan_path.absolute()) == read_plan(plan_path)


@pytest.mark.parametrize("name", ["plan.toml", *TABLES])
def test_an_empty_file_is_named(plan_path, problems, name):
    (plan_path.parent / name).write_text(" \n", encoding="utf-8")
    assert any(text.startswith(f"{name}: the file is empty") for text in problems())


def test_a_plan_of_comments_only_is_empty(plan_path, problems):
    plan_path.write_text("# nothing yet\n", encoding="utf-8")
    assert "the file holds no keys" in only(problems())


def test_a_plan_that_is_not_there(tmp_path):
    with pytest.raises(PlanError, match="no such file"):
        read_plan(tmp_path / "plan.toml")


@pytest.mark.parametrize("name", ["plan.toml", *TABLES])
@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-32"])
def test_sixteen_bits_are_refused(plan_path, problems, name, encoding):
    path = plan_path.parent / name
    path.write_text(path.read_text(encoding="utf-8"), encoding=encoding)
    assert any(t.startswith(f"{name}: ") and "save it as UTF-8" in t for t in problems())


@pytest.mark.parametrize("name", ["plan.toml", "coils.csv"])
def test_latin_1_is_refused_with_its_line(plan_path, problems, name):
    path = plan_path.parent / name
    text = path.read_text(encoding="utf-8").replace("maker's", "fabricante-é's", 1)
    path.write_text(text, encoding="latin-1")
    line = text[: text.index("é")].count("\n") + 1
    wanted = f"{name}: line {line}: byte 0xE9 is not UTF-8"
    assert any(found.startswith(wanted) for found in problems()), problems()


@pytest.mark.parametrize("name", ["plan.toml", *TABLES])
def test_the_mark_that_spreadsheets_write_is_no_part_of_the_text(plan_path, name):
    before = read_plan(plan_path)
    path = plan_path.parent / name
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert read_plan(plan_path) == before


def test_windows_line_ends_change_nothing(plan_path):
    before = read_plan(plan_path)
    for name in ("plan.toml", *TABLES):
        path = plan_path.parent / name
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert read_plan(plan_path) == before


@pytest.mark.parametrize(("mark", "word"), [(";", "semicolons"), ("\t", "tabs")])
def test_other_separators_are_recognised(plan_path, problems, mark, word):
    path = plan_path.parent / "survey.csv"
    text = path.read_text(encoding="utf-8").replace(",", mark)
    path.write_text(text, encoding="utf-8")
    found = only(problems())
    assert found.startswith("survey.csv: row 1: the columns are separated by")
    assert word in found
    assert "commas" in found


def test_a_link_out_of_the_folder_is_refused(plan_path, problems, tmp_path):
    coils = plan_path.parent / "coils.csv"
    outside = tmp_path / "outside.csv"
    outside.write_bytes(coils.read_bytes())
    coils.unlink()
    coils.symlink_to(outside)
    assert "plan.toml: coils" in only(problems())
    assert "out of the plan's folder" in only(problems())


def test_a_table_in_a_folder_below_is_read(plan_path, edit):
    before = read_plan(plan_path)
    (plan_path.parent / "tables").mkdir()
    (plan_path.parent / "coils.csv").rename(plan_path.parent / "tables" / "coils.csv")
    edit('coils = "coils.csv"', 'coils = "tables/coils.csv"')
    assert read_plan(plan_path) == before


def test_a_mesh_file_must_be_there(edit, problems):
    edit('wall_head = "10 m"', 'wall_head = "10 m"\nmesh = { file = "../a.stl", unit = "m" }')
    assert "plan.toml: shaft.mesh.file" in only(problems())
    assert "out of the plan's folder" in only(problems())


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "x" * 5000, "a.b" * 5000, "\0"])
def test_what_is_not_a_plan_is_a_plan_error(plan_path, problems, text):
    plan_path.write_text(text, encoding="utf-8")
    assert only(problems()).startswith("plan.toml: ")


def test_an_older_version_is_brought_up_to_date(plan_path, edit, monkeypatch):
    before = read_plan(plan_path)
    edit("version = 1\n", "version = 0\n")
    edit('name = "Practice tower (invented)"', 'title = "Practice tower (invented)"')

    def from_0(written):
        written = dict(written)
        written["name"] = written.pop("title")
        written["version"] = 1
        return written

    monkeypatch.setitem(reading.MIGRATIONS, 0, from_0)
    assert read_plan(plan_path) == before


def test_every_version_below_this_one_can_be_brought_up_to_date():
    assert PLAN_VERSION == 1
    assert set(reading.MIGRATIONS) == set(range(1, PLAN_VERSION))


def test_faults_in_tables_and_in_the_plan_are_told_together(plan_path, edit, problems):
    (plan_path.parent / "coils.csv").write_text("tag;material\nR1;manila\n", encoding="utf-8")
    edit('latitude = "51 deg"', "latitude = 51")
    edit('in_charge = "Tobin Vale"', 'in_charge = "Tobin"')
    found = problems()
    assert len(found) == 3, found
    assert found[0].startswith("coils.csv: row 1")
    assert found[1].startswith("plan.toml: site.latitude")
    assert 'no person named "Tobin"' in found[2]


def test_the_error_names_file_and_number_of_problems(plan_path, edit):
    edit('latitude = "51 deg"', "latitude = 51")
    with pytest.raises(PlanError, match=r"^plan\.toml: 1 problem\(s\)\n  - plan\.toml: site"):
        read_plan(plan_path)


@pytest.mark.parametrize("key", ["member", "let_into"])
def test_a_carrier_drawn_by_a_mesh_has_no_member_for_a_ledge(edit, problems, key):
    edit(
        'members = "members.csv"\nswelling = "4 mm"',
        'density = "600 kg/m^3"\nmesh = { file = "survey.csv", unit = "m" }\nswelling = "4 mm"',
    )
    edit(
        "[[slings]]",
        '[[locks]]\nof = "cap"\non = "base"\nby = "fid"\nrelease = "4 mm"\n'
        f"ledges = [{{ side = 'outside', bearing = '100 mm', {key} = 'BNE' }}]\n\n[[slings]]",
    )
    told = [line for line in problems() if "names no member" in line]
    assert len(told) == 1
    assert key in told[0]
    assert "give species and grain" in told[0]
