"""Tables in spreadsheets: what is written is what is read, and nothing of it is run."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from towerlift.documents.sheets import Table, as_text, table_csv, write_csv, write_xlsx

EVIL = [
    "=1+1",
    '=HYPERLINK("http://a.invalid","x")',
    "+1",
    "-1+2",
    "@SUM(A1)",
    "\t=1",
    "  =1",
    "＝1",
    "%0A=1",
]


def table(*rows, name="tolerance base", heads=("piece", "off [mm]"), notes=()):
    return Table(name=name, heads=heads, rows=rows, notes=notes)


@pytest.mark.parametrize("words", EVIL)
def test_words_are_never_a_formula_in_csv(words):
    rows = list(csv.reader(io.StringIO(table_csv(table((words, 1.0))))))
    assert rows[1][0].startswith("'")
    assert rows[1][0][1:] == words


@pytest.mark.parametrize("words", EVIL)
def test_words_are_never_a_formula_in_a_workbook(words, tmp_path):
    path = tmp_path / "sheet.xlsx"
    write_xlsx([table((words, 1.0), notes=(words,))], path)
    sheet = load_workbook(path).worksheets[0]
    for at in ("A2", "A4"):
        assert sheet[at].data_type == "s"
        assert sheet[at].quotePrefix
        assert sheet[at].value == words
    assert sheet["B2"].value == 1.0


def test_numbers_stay_numbers(tmp_path):
    text = table_csv(table(("foot", -20.3), ("leg", None)))
    assert text.splitlines()[1:] == ["foot,-20.3", "leg,"]
    path = tmp_path / "sheet.xlsx"
    write_xlsx([table(("foot", -20.3))], path)
    sheet = load_workbook(path).worksheets[0]
    assert (sheet["B2"].data_type, sheet["B2"].value) == ("n", -20.3)
    assert sheet["A1"].font.bold


def test_control_characters_are_taken_out(tmp_path):
    assert as_text("a\x00b\x1b") == "a b "
    path = tmp_path / "sheet.xlsx"
    write_xlsx([table(("a\x00b", 1))], path)
    assert load_workbook(path).worksheets[0]["A2"].value == "a b"


def test_sheets_have_names_that_may_be(tmp_path):
    path = tmp_path / "sheet.xlsx"
    names = ["a/b:c*?[x]", "a/b:c*?[x]", "n" * 60, "''"]
    write_xlsx([table(("x", 1), name=name) for name in names], path)
    found = load_workbook(path).sheetnames
    assert len(set(found)) == len(names)
    assert all(len(name) <= 31 and not set(name) & set("[]:*?/\\") for name in found)


def test_nothing_is_written_over(tmp_path):
    for write, suffix in ((lambda p: write_csv(table(("x", 1)), p), "csv"),
                          (lambda p: write_xlsx([table(("x", 1))], p), "xlsx")):  # fmt: skip
        path = tmp_path / f"sheet.{suffix}"
        path.write_bytes(b"mine")
        with pytest.raises(FileExistsError):
            write(path)
        assert path.read_bytes() == b"mine"


def test_a_row_that_does_not_fit_is_refused():
    with pytest.raises(ValueError, match="3 cells under 2 heads"):
        table(("x", 1, 2))
    with pytest.raises(ValueError, match="no table"):
        write_xlsx([], None)  # type: ignore[arg-type]


@given(st.text(max_size=40))
def test_whatever_the_words_csv_reads_back_as_words(words):
    rows = list(csv.reader(io.StringIO(table_csv(table((words, 1))))))
    first = rows[1][0]
    assert first.lstrip()[:1] not in tuple("=+-@") or first.startswith("'")
