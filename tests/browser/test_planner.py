"""The planner's notebook in a real browser, on the example as a user finds it."""

import json
import re
import shutil

import pytest

from tests.browser.lab import (
    LAPTOP,
    OUTPUT,
    ROOT,
    cell_errors,
    cells_not_run,
    example_lab,
    open_notebook,
)

PATIENCE_MS = 900_000  # to reckon the example on a slow machine, kernels compiled first
ANSWER_MS = 60_000  # to build a passage's bodies on a busy machine, and to answer
NOTEBOOK = "notebooks/planner.ipynb"

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """JupyterLab on a copy of notebooks and example, and the folder it is in."""
    root = tmp_path_factory.mktemp("lab")
    with example_lab(root) as (base, page):
        yield base, page, root


@pytest.fixture(scope="module")
def opened(lab):
    """The notebook after all its cells have run."""
    base, page, _ = lab
    open_notebook(base, page, "planner", ".towerlift .tlv-list option", PATIENCE_MS)
    into_sight(page)
    return page


def into_sight(page):
    page.locator(".towerlift").first.evaluate("panel => panel.scrollIntoView()")


def open_pane(page, name):
    page.locator(".towerlift .widget-toggle-buttons button", has_text=name).first.click()
    into_sight(page)


def shown(page):
    """What the canvas shows, drawn anew."""
    return page.locator(".tlv-sight").screenshot()


def settled(page):
    """Wait until the picture no longer changes."""
    before = shown(page)
    for _ in range(60):
        page.wait_for_timeout(300)
        after = shown(page)
        if after == before:
            return after
        before = after
    pytest.fail("the picture did not come to rest")


def answer_of(page):
    return page.locator(".tlv-answer").inner_text()


def test_every_cell_ran_and_the_claim_held(opened):
    assert cell_errors(opened) == []
    assert cells_not_run(opened) == []


def test_the_page_says_what_it_must(opened):
    text = opened.locator(".towerlift").first.inner_text()
    assert "does not replace a licensed engineer and a competent rigger" in text
    assert re.search(r"[1-9]\d* fail, \d+ not evaluated, \d+ pass", text)
    assert "Limit by:" in text


def test_the_live_view_hides_the_still_that_stands_in_for_it(opened):
    stills = opened.locator(".jp-OutputArea-child img[src^='data:image/png']")
    assert stills.count() == 1
    assert not stills.first.is_visible()


@pytest.mark.parametrize(("size", "screen"), [(LAPTOP, "laptop"), ((1920, 1080), "projector")])
def test_it_fits_the_screen_with_a_pane_and_without(opened, size, screen):
    opened.set_viewport_size({"width": size[0], "height": size[1]})
    try:
        opened.locator(".towerlift select", has_text="projector").select_option(screen)
        for pane in ("Raise", "What if", "Gaps", "Pictures"):
            open_pane(opened, pane)
            opened.wait_for_timeout(600)
            box = opened.locator(".towerlift").first.bounding_box()
            bar = opened.locator(".towerlift .widget-toggle-buttons").first.bounding_box()
            opened.screenshot(path=OUTPUT / f"planner-{screen}-{pane.replace(' ', '-')}.png")
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= size[0]
            # View and bar are in sight at once, and below them half a pane or more.
            assert bar["y"] + bar["height"] <= size[1] - (30 if pane == "Raise" else 140)
            wider = opened.eval_on_selector_all(
                ".towerlift .widget-html, .towerlift .widget-box, .towerlift .tlv-side",
                "all => all.filter(p => p.scrollWidth > p.clientWidth + 1)"
                ".map(p => p.className)",
            )
            assert wider == []
    finally:
        open_pane(opened, "Raise")
        opened.locator(".towerlift select", has_text="projector").select_option("laptop")
        opened.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
        into_sight(opened)


def test_findings_can_be_read_beside_the_view_on_a_laptop(opened):
    open_pane(opened, "Raise")
    opened.wait_for_timeout(600)
    side = opened.locator(".tlv-side").bounding_box()
    lines = opened.locator(".tlv-list").bounding_box()
    said = opened.locator(".tlv-finding").bounding_box()
    assert lines["height"] >= 45
    assert said["height"] >= 90
    assert said["y"] + 80 <= side["y"] + side["height"]


def test_the_slider_moves_the_tower(opened):
    slider = opened.locator(".tlv-way input")
    slider.focus()
    opened.keyboard.press("Home")
    first = settled(opened)
    place = opened.locator(".tlv-now-words").inner_text()
    box = slider.bounding_box()
    opened.mouse.click(box["x"] + 0.6 * box["width"], box["y"] + box["height"] / 2)
    assert settled(opened) != first
    assert opened.locator(".tlv-now-words").inner_text() != place


def test_choosing_a_finding_goes_to_it(opened):
    lines = opened.locator(".tlv-list option").all_inner_texts()
    assert lines[0].startswith("FAILS")
    ledge = next(n for n, x in enumerate(lines) if "clearance " in x and "ledge" in x)
    opened.locator(".tlv-list").select_option(index=ledge)
    opened.wait_for_timeout(800)
    text = opened.locator(".tlv-finding").inner_text()
    assert "FAILS: clearance" in text
    assert "mm short" in text
    heel = re.search(r"heel at (-?[\d.]+) m, at east", text)
    assert heel is not None
    assert f"heel at {heel.group(1)} m" in opened.locator(".tlv-now-words").inner_text()
    opened.screenshot(path=OUTPUT / "planner-finding.png")


def test_a_what_if_is_answered_kept_and_called_back(opened):
    open_pane(opened, "What if")
    opened.wait_for_selector(".tlv-answer td", timeout=ANSWER_MS)
    planned, still = answer_of(opened), settled(opened)
    drift = opened.locator(".tlv-sliders input[data-key=drift_north]")
    drift.focus()
    for _ in range(12):
        opened.keyboard.press("ArrowLeft")
    opened.wait_for_function(
        "before => document.querySelector('.tlv-answer').innerText !== before",
        arg=planned,
        timeout=ANSWER_MS,
    )
    opened.wait_for_selector(".towerlift h4:has-text('drifts 12 mm south')", timeout=ANSWER_MS)
    tried = answer_of(opened)
    assert "clearance" in tried
    assert "asked ≥" in tried
    assert settled(opened) != still
    # Where every limit comes from stands in the pane below.
    assert "running clearance by" in opened.locator(".towerlift").first.inner_text()
    opened.locator(".towerlift input[placeholder='name of a variant']").fill("south")
    opened.get_by_role("button", name="Keep", exact=True).click()
    opened.wait_for_selector(".towerlift td:has-text('drifts 12 mm south')", timeout=ANSWER_MS)
    opened.screenshot(path=OUTPUT / "planner-what-if.png")
    opened.locator(".towerlift button", has_text="All as planned").click()
    opened.wait_for_selector(".towerlift h4:has-text('as it should be')", timeout=ANSWER_MS)
    opened.locator(".towerlift select", has_text="variants").select_option("south")
    opened.wait_for_selector(".towerlift h4:has-text('drifts 12 mm south')", timeout=ANSWER_MS)
    assert drift.input_value() == "-12"


def test_what_is_tried_goes_along_with_the_slider(opened):
    before = opened.locator(".towerlift h4").first.inner_text()
    assert "drifts 12 mm south" in before
    where = opened.locator(".towerlift h4 + p").inner_text()
    opened.locator(".tlv-way input").focus()
    for _ in range(6):
        opened.keyboard.press("ArrowRight")
    opened.wait_for_function(
        "before => document.querySelector('.towerlift h4 + p').innerText !== before",
        arg=where,
        timeout=ANSWER_MS,
    )
    assert "drifts 12 mm south" in opened.locator(".towerlift h4").first.inner_text()
    # Told in the view as well, about the place where it now is.
    opened.wait_for_selector(".tlv-answer td", timeout=ANSWER_MS)


def test_putting_the_sliders_away_shows_the_true_hang(opened):
    tried = settled(opened)
    open_pane(opened, "Gaps")
    open_pane(opened, "What if")
    opened.wait_for_selector(".towerlift h4:has-text('as it should be')", timeout=ANSWER_MS)
    assert settled(opened) != tried
    assert opened.locator(".tlv-sliders input[data-key=drift_north]").input_value() == "0"


def test_choosing_a_gap_goes_there(opened):
    open_pane(opened, "Gaps")
    gaps = opened.locator(".towerlift .widget-select select[size]")
    gaps.locator("option").first.wait_for(state="attached")
    here = gaps.locator("option").count()
    opened.locator(".towerlift button", has_text="whole raise").click()
    opened.wait_for_function(
        "n => document.querySelector('.towerlift .widget-select select[size]').length > n",
        arg=here,
    )
    first = gaps.locator("option").first.inner_text().replace("\u00a0", " ")
    assert first.startswith(("FAILS", "NOT EVALUATED"))
    stage = first.removeprefix("NOT EVALUATED").removeprefix("FAILS").split()[0]
    opened.locator(".tlv-way input").focus()
    opened.keyboard.press("Home")
    # Until the view has come to rest and has told the kernel where it is.
    opened.wait_for_timeout(2000)
    gaps.select_option(index=0)
    opened.wait_for_function(
        "stage => Number(document.querySelector('.tlv-way input').value) > 0"
        " && document.querySelector('.tlv-stage').value === stage",
        arg=stage,
    )


def test_a_picture_is_written_beside_the_notebook(opened, lab):
    open_pane(opened, "Pictures")
    opened.locator(".towerlift select", has_text="the nest, taken apart").select_option(
        "the nest, taken apart"
    )
    opened.locator(".towerlift button", has_text="Make").click()
    opened.wait_for_selector(".towerlift p:has-text('Written: pictures/nest.png')")
    picture = lab[2] / "notebooks" / "pictures" / "nest.png"
    assert picture.read_bytes().startswith(b"\x89PNG")
    open_pane(opened, "Raise")


def test_saved_and_opened_again_it_shows_a_true_still(opened, lab):
    base, page, root = lab
    page.keyboard.press("Escape")
    page.locator(".lm-MenuBar-item", has_text="File").first.click()
    page.locator(".lm-Menu-itemLabel", has_text="Save Notebook").first.click()
    file = root / NOTEBOOK
    for _ in range(100):
        page.wait_for_timeout(100)
        if '"image/png"' in file.read_text(encoding="utf-8"):
            break
    saved = file.read_bytes()
    assert len(saved) < 1_000_000
    outputs = [
        output["data"]
        for cell in json.loads(saved)["cells"]
        for output in cell.get("outputs", ())
        if "image/png" in output.get("data", {})
    ]
    assert len(outputs) == 1
    # Another name, as it comes to someone else: not trusted, and no kernel has run it.
    shutil.copy(file, root / "notebooks" / "sent.ipynb")
    context = page.context.browser.new_context(viewport={"width": 1366, "height": 768})
    try:
        other = context.new_page()
        other.goto(f"{base}/lab/workspaces/other/tree/notebooks/sent.ipynb")
        other.wait_for_selector(".jp-OutputArea-child img[src^='data:image/png']")
        still = other.locator(".jp-OutputArea-child img[src^='data:image/png']")
        still.scroll_into_view_if_needed()
        assert still.is_visible()
        width, height = still.evaluate("image => [image.naturalWidth, image.naturalHeight]")
        assert (width, height > 450) == (560, True)
        assert other.locator(".tlv canvas").count() == 0
        other.wait_for_timeout(1500)
        other.screenshot(path=OUTPUT / "planner-reopened.png")
    finally:
        context.close()


def test_the_notebook_is_stored_without_outputs():
    for file in (ROOT / "notebooks").glob("*.ipynb"):
        cells = json.loads(file.read_text(encoding="utf-8"))["cells"]
        for cell in cells:
            if cell["cell_type"] == "code":
                assert cell["outputs"] == []
                assert cell["execution_count"] is None
