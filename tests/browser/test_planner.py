"""The planner's notebook in a real browser, on the example as a user finds it."""

import json
import re
import shutil
from pathlib import Path

import pytest

from tests.browser.lab import LAPTOP, laptop_page, run_all_cells, running_lab

ROOT = Path(__file__).resolve().parents[2]
PATIENCE_MS = 900_000  # to reckon the example on a slow machine, kernels compiled first
OUTPUT = ROOT / "build" / "browser"

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """The notebook after all its cells have run."""
    root = tmp_path_factory.mktemp("lab")
    shutil.copytree(ROOT / "notebooks", root / "notebooks")
    shutil.copytree(ROOT / "meshes", root / "meshes")
    OUTPUT.mkdir(parents=True, exist_ok=True)
    with running_lab(root) as base, laptop_page() as page:
        run_all_cells(page, f"{base}/lab/tree/notebooks/planner.ipynb")
        try:
            page.wait_for_selector(".towerlift img >> nth=1", timeout=PATIENCE_MS)
            page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]')
        finally:
            page.screenshot(path=OUTPUT / "planner-opened.png")
        page.locator(".towerlift").first.evaluate("panel => panel.scrollIntoView()")
        yield page


def pictures(page):
    return page.eval_on_selector_all(
        ".towerlift img",
        """images => Promise.all(images.map(async image => {
            const bytes = await (await fetch(image.src)).arrayBuffer();
            return Array.from(new Uint8Array(bytes)).join();
        }))""",
    )


def settle(page, change):
    """Do something that changes the tower's picture, and wait until it has changed."""
    before = pictures(page)
    change()
    for _ in range(100):
        page.wait_for_timeout(100)
        after = pictures(page)
        if after != before:
            page.wait_for_timeout(500)
            return before, pictures(page)
    pytest.fail("the picture did not change within ten seconds")


def test_every_cell_ran_and_the_claim_held(opened):
    errors = opened.locator('.jp-OutputArea-output[data-mime-type*="error"]').all_inner_texts()
    assert errors == []
    counts = opened.locator(".jp-CodeCell .jp-InputPrompt").all_inner_texts()
    assert all(re.fullmatch(r"\[\d+\]:", count) for count in counts), counts


def test_the_page_says_what_it_must(opened):
    text = opened.locator(".towerlift").first.inner_text()
    assert "does not replace a licensed engineer and a competent rigger" in text
    assert re.search(r"[1-9]\d* fail, \d+ not evaluated, \d+ pass", text)
    assert "Limit by:" in text


def test_it_fits_a_small_laptop(opened):
    opened.locator(".towerlift").first.evaluate("panel => panel.scrollIntoView()")
    box = opened.locator(".towerlift").first.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= LAPTOP[0]
    assert box["height"] <= 645  # what JupyterLab leaves of 768
    wider = opened.eval_on_selector_all(
        ".towerlift .widget-html, .towerlift .widget-box",
        "parts => parts.filter(p => p.scrollWidth > p.clientWidth + 1).map(p => p.className)",
    )
    assert wider == []


def test_the_slider_moves_the_tower(opened):
    handle = opened.locator(".towerlift .noUi-handle").first
    handle.focus()
    before, after = settle(opened, lambda: opened.keyboard.press("Home"))
    assert before[0] != after[0]

    def drag():
        track = opened.locator(".towerlift .noUi-target").first.bounding_box()
        opened.mouse.click(track["x"] + 0.6 * track["width"], track["y"] + track["height"] / 2)

    place = opened.locator(".towerlift").first.inner_text()
    before, after = settle(opened, drag)
    assert before[0] != after[0]
    assert opened.locator(".towerlift").first.inner_text() != place
    opened.screenshot(path=OUTPUT / "planner-slid.png")


def test_choosing_a_finding_goes_to_it(opened):
    options = opened.locator(".towerlift select[size] option")
    lines = [line.replace("\u00a0", " ") for line in options.all_inner_texts()]
    assert lines[0].startswith("FAILS")
    ledge = next(n for n, line in enumerate(lines) if "clearance " in line and "FAILS" in line)
    select = opened.locator(".towerlift select[size]")
    settle(opened, lambda: select.select_option(index=ledge))
    text = opened.locator(".towerlift").first.inner_text()
    assert "FAILS: clearance" in text
    assert "mm short" in text
    heel = re.search(r"heel at (-?[\d.]+) m, at x", text)
    assert heel is not None
    assert f"heel {heel.group(1)} m" in opened.locator(".towerlift svg").all_text_contents()[1]
    opened.screenshot(path=OUTPUT / "planner-finding.png")


def test_the_list_can_be_sieved(opened):
    words = opened.locator(".towerlift input[type=text]")
    words.fill("brace")
    words.press("Enter")
    options = opened.locator(".towerlift select[size] option")
    opened.wait_for_timeout(1500)
    assert options.count() > 0
    everything = len(options.all_inner_texts())
    words.fill("no such words at all")
    opened.wait_for_timeout(1500)
    assert options.count() == 0
    words.fill("")
    opened.wait_for_timeout(1500)
    assert options.count() > everything


def test_the_notebook_is_stored_without_outputs():
    for file in (ROOT / "notebooks").glob("*.ipynb"):
        cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
        for cell in cells:
            if cell["cell_type"] == "code":
                assert cell["outputs"] == []
                assert cell["execution_count"] is None
