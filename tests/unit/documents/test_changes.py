"""What changed since an earlier version: page and workbook, safe and complete."""

from dataclasses import replace
from io import BytesIO

import pytest
from openpyxl import load_workbook

from towerlift.documents.changes import NAMES, changes_page, write_changes
from towerlift.documents.comparing import compare
from towerlift.documents.framing import CAUTION


@pytest.fixture(scope="module")
def later(starter_outcome):
    plan = starter_outcome.plan
    coils = list(plan.coils)
    coils[0] = coils[0].model_copy(update={"derating": 0.6, "source": "=1+1 <b>worn</b>"})
    changed = plan.model_copy(update={"coils": tuple(coils), "name": "Tower <two> & more"})
    return replace(starter_outcome, plan=changed)


def test_every_change_is_on_the_page_and_nothing_in_it_acts(starter_outcome, later):
    page = changes_page(compare(starter_outcome, later))
    assert CAUTION in page
    assert "Tower &lt;two&gt; &amp; more" in page
    assert "<b>worn</b>" not in page
    assert "&lt;b&gt;worn&lt;/b&gt;" in page
    assert "75" in page
    assert "60" in page


def test_nothing_changed_is_said(starter_outcome):
    page = changes_page(compare(starter_outcome, starter_outcome))
    assert "derating" not in page


def test_page_and_workbook_are_written_once(starter_outcome, later, tmp_path):
    paths = write_changes(starter_outcome, later, tmp_path / "papers")
    assert tuple(path.name for path in paths) == NAMES
    book = load_workbook(BytesIO(paths[1].read_bytes()))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert any("worn" in str(cell.value) for cell in cells)
    assert all(cell.data_type != "f" for cell in cells)
    with pytest.raises(FileExistsError, match="already there"):
        write_changes(starter_outcome, later, tmp_path / "papers")
    again = write_changes(starter_outcome, later, tmp_path / "papers", replace=True)
    assert tuple(again) == paths
