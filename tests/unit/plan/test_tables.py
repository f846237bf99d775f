"""Every list that a spreadsheet can hold reads from CSV as it does from TOML."""

import csv
import tomllib

import pytest
import tomli_w

from towerlift.plan import read_plan
from towerlift.plan.saving import plan_as_toml


def as_csv(path, header, *rows):
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *rows])


def from_csv(plan_path, key, name):
    """The plan in one file, with a list of the plan's own given by a table."""
    text = plan_as_toml(read_plan(plan_path))
    whole = tomllib.loads(text)
    assert key in whole
    del whole[key]
    plan_path.write_text(tomli_w.dumps({key: name, **whole}), encoding="utf-8")
    return read_plan(plan_path)


def test_slings_with_their_lugs_in_columns(plan_path):
    before = read_plan(plan_path)
    as_csv(
        plan_path.parent / "slings.csv",
        ["name", "carries", "stage", "hook x [m]", "hook y [m]", "hook s [m]"]
        + [f"lugs {n} {axis} [mm]" for n in (1, 2, 3) for axis in "xys"]
        + ["centre x [m]", "centre y [m]", "centre z [m]", "rated", "source"],
        [
            *(
                "finial bridle",
                "finial",
                "S4",
                0,
                0,
                0.9,
                300,
                0,
                100,
                -300,
                0,
                100,
                "",
                "",
                "",
            ),
            *(0, 0, 0, "5 kN", before.slings[0].source),
        ],
    )
    assert from_csv(plan_path, "slings", "slings.csv") == before


def test_contacts_with_lists_in_cells(plan_path):
    before = read_plan(plan_path)
    rows = [
        [c.kind, c.of, "; ".join(c.marks), c.on, ";".join(c.on_marks)] for c in before.contacts
    ]
    as_csv(plan_path.parent / "c.csv", ["kind", "of", "marks", "on", "on marks"], *rows)
    assert from_csv(plan_path, "contacts", "c.csv") == before


def test_activities_with_times_in_cells(plan_path):
    before = read_plan(plan_path)
    as_csv(
        plan_path.parent / "a.csv",
        [
            *("name", "crew", "count", "place", "lowest [m]", "highest", "sheltered_by"),
            *("starts", "ends", "needs"),
        ],
        [
            *("frame the cap", "framers", 4, "in the column", 0, "4100 mm", "deck"),
            *("2027-05-11T08:00:00-02:00", "2027-05-11 16:00-02:00", ""),
        ],
    )
    assert from_csv(plan_path, "activities", "a.csv") == before


def test_fixtures_that_name_a_table_of_members(plan_path):
    before = read_plan(plan_path)
    as_csv(
        plan_path.parent / "f.csv",
        ["name", "kind", "note", "members"],
        *[[f.name, f.kind, f.note, "pieces.csv"] for f in before.fixtures],
    )
    ends = [f"{end} {axis} [m]" for end in ("start", "end") for axis in "xyz"]
    as_csv(
        plan_path.parent / "pieces.csv",
        ["of", "mark", "part", "species", "breadth [m]", "depth [m]", *ends],
        *[
            [f.name, m.mark, m.part, m.species, m.breadth, m.depth, *m.start, *m.end]
            for f in before.fixtures
            for m in f.members
        ],
    )
    assert from_csv(plan_path, "fixtures", "f.csv") == before


@pytest.mark.parametrize(
    ("key", "header", "rows"),
    [
        (
            "people",
            ["name", "role"],
            [["Edda Morrow", "master rigger"], ["Tobin Vale", "engineer"]],
        ),
        (
            "crews",
            ["name", "need", "signed", "show rate [%]"],
            [["capstan hands", 32, 40, 90], ["framers", 4, 6, ""]],
        ),
    ],
)
def test_plain_lists(plan_path, key, header, rows):
    before = read_plan(plan_path)
    as_csv(plan_path.parent / "t.csv", header, *rows)
    assert from_csv(plan_path, key, "t.csv") == before


def test_blank_rows_at_the_end_are_no_rows(plan_path, edit):
    before = read_plan(plan_path)
    path = plan_path.parent / "survey.csv"
    path.write_text(path.read_text(encoding="utf-8") + ",,,,\n\n,,,,\n", encoding="utf-8")
    assert read_plan(plan_path) == before


def test_rows_are_counted_as_a_spreadsheet_counts_them(plan_path, edit, problems):
    # A cell with a line break takes two lines of the file and one row of the sheet.
    edit("maker's certificate for coil R1,", "maker's\ncertificate for coil R1,", "coils.csv")
    edit("R3,polyester,24,", "R3,polyester,-24,", "coils.csv")
    (found,) = problems()
    assert found.startswith('coils.csv: row 4, column "diameter [mm]"')


def test_a_table_may_not_stand_where_rows_hold_rows_of_rows(edit, problems):
    edit('[[crews]]\nname = "framers"', 'stages = "s.csv"\n[[crews]]\nname = "framers"')
    assert any("belongs to the plan itself" in text for text in problems())


def test_stages_are_not_a_table(plan_path, problems):
    text = plan_path.read_text(encoding="utf-8")
    head, _, _ = text.partition("# The raise itself")
    plan_path.write_text('stages = "stages.csv"\n' + head, encoding="utf-8")
    assert any("stages cannot be a CSV file" in found for found in problems())


def test_a_header_alone_has_no_rows(plan_path, problems):
    path = plan_path.parent / "survey.csv"
    header = path.read_text(encoding="utf-8").splitlines()[0]
    path.write_text(header + "\n", encoding="utf-8")
    (found,) = problems()
    assert found.startswith("survey.csv: no rows below the header")


def test_an_owner_without_rows_is_told_so(plan_path, edit, problems):
    edit('name = "L2"\nsection', 'name = "L9"\nsection')
    found = problems()
    assert any(
        'plan.toml: lifts["L9"].lines: no row of "lines.csv" is of "L9"' in t for t in found
    )
    assert any('lines.csv: row 10 (and 7 more rows), column "of"' in t for t in found)
