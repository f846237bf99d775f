"""The live view in JupyterLab, in Notebook 7 and in Voila: one kernel, several views."""

import json
import os
import pickle
import re
import shutil
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from urllib.error import URLError
from urllib.request import ProxyHandler, build_opener

import nbformat
import numpy as np
import pytest

from tests.browser.lab import OUTPUT, cell_errors, laptop_page, run_all_cells, running_lab
from tests.browser.looking import READY, VIEWS, looks_like, screen, settled, tell
from towerlift.scene import build_scene, whole_tower
from towerlift.scene.colours import LARCH
from towerlift.scrub.words import summary

pytestmark = pytest.mark.browser

RISING = 5  # the passage in which the base rises
CELLS = [
    "import pickle\n"
    "from towerlift.scrub import ScrubView\n"
    "with open('outcome.pickle', 'rb') as file:\n"
    "    outcome = pickle.load(file)",
    "view = ScrubView(outcome, height=520)\nview",
    "second = ScrubView(outcome, height=400, unit='ft', position=17.5)\nsecond",
]
PANEL = [
    CELLS[0],
    "from towerlift.panels import PlannerPanel\npanel = PlannerPanel(outcome)\npanel",
]
ONE = f"() => ({VIEWS} ?? []).length == 1 && {READY[5:]}"
TWO = f"() => ({VIEWS} ?? []).length == 2 && {READY[5:]}"


def write_notebook(folder, outcome, name="raise", cells=CELLS):
    with (folder / "outcome.pickle").open("wb") as file:
        pickle.dump(outcome, file)
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
    book.metadata["kernelspec"] = {
        "name": "python3",
        "display_name": "Python 3",
        "language": "python",
    }
    nbformat.write(book, folder / f"{name}.ipynb")


@pytest.fixture(scope="module")
def opened(starter_outcome, tmp_path_factory):
    """Base address, folder and page of a JupyterLab that has run the notebook."""
    root = tmp_path_factory.mktemp("lab")
    write_notebook(root, starter_outcome)
    with running_lab(root) as base, laptop_page() as page:
        sent = []
        page.on(
            "websocket", lambda ws: ws.on("framesent", lambda frame: sent.append((ws, frame)))
        )
        run_all_cells(page, f"{base}/lab/tree/raise.ipynb")
        page.wait_for_function(TWO, timeout=120_000)
        yield base, root, page, sent


def test_two_views_of_one_kernel_stand_side_by_side(opened):
    _, _, page, _ = opened
    assert page.evaluate(f"() => {VIEWS}.map((view) => view.unit)") == ["m", "ft"]
    assert tell(page, "return view.position;", 1) == pytest.approx(17.5)
    assert cell_errors(page) == []


def test_the_base_is_seen_where_it_stands(opened, starter_outcome):
    _, _, page, _ = opened
    tell(page, f'view.goTo({RISING + 0.45}); view.lookFrom("south side");')
    page.locator(".tlv").first.scroll_into_view_if_needed()
    settled(page)
    size = tell(page, "const { width, height } = view.sightSize(); return [width, height];")
    whole = whole_tower(build_scene(starter_outcome), tuple(size))
    south = type(whole)(focus=whole.focus, span=whole.span, azimuth=np.pi, rise=0.0)
    passage = starter_outcome.raise_.passages[RISING]
    girt = np.array([[-0.8, -1.65, passage.heel("base", 0.45) + 1.9]])
    ((x, y),) = south.pixels(girt, tuple(size))
    assert looks_like(screen(page)[round(y), round(x)], LARCH)


def test_scrubbing_sends_nothing_to_the_kernel(opened):
    _, _, page, sent = opened
    slider = page.locator(".tlv-way input").first
    slider.focus()
    page.wait_for_timeout(500)
    frames = tell(page, "return view.stats.frames;")
    before = len(sent)
    for key in ["ArrowRight"] * 30 + ["PageUp"] * 3 + ["Home", "End"]:
        page.keyboard.press(key)
    settled(page)
    assert len(sent) == before
    assert tell(page, "return view.stats.sent;") == 0
    assert tell(page, "return view.stats.frames;") > frames + 5


def test_the_kernel_moves_the_view_and_the_view_tells_where_it_is(opened):
    _, _, page, _ = opened
    in_kernel(page, "view.position = 6.5")
    page.wait_for_function(f"() => {VIEWS}[0].position == 6.5", timeout=20_000)
    in_kernel(page, "view.follow = True")
    page.wait_for_timeout(800)
    tell(page, "view.goTo(4.25);")
    page.wait_for_timeout(1200)
    assert in_kernel(page, "print(view.position)") == "4.25"
    in_kernel(page, "view.follow = False")


def in_kernel(page, code):
    """Run a line in a cell of its own at the end, and return what it printed."""
    number = page.locator(".jp-CodeCell").count()
    page.locator(".jp-CodeCell .jp-Editor").last.click()
    page.keyboard.press("Escape")
    page.keyboard.press("b")
    page.wait_for_function(f"() => document.querySelectorAll('.jp-CodeCell').length > {number}")
    page.keyboard.press("Enter")
    page.keyboard.insert_text(code)
    page.keyboard.press("Control+Enter")
    cell = page.locator(".jp-CodeCell").last
    cell.locator(".jp-InputPrompt", has_text=re.compile(r"\[\d+\]")).wait_for(timeout=60_000)
    page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]')
    found = cell.locator(".jp-OutputArea-output").all_inner_texts()
    return found[0].strip() if found else ""


def test_a_saved_notebook_is_small_and_keeps_a_true_picture(opened):
    _, root, page, _ = opened
    still = page.locator(".towerlift-still")
    assert still.count() == 2
    assert not still.first.is_visible()
    page.locator(".jp-Notebook").click(position={"x": 5, "y": 5})
    page.keyboard.press("Control+s")
    file = root / "raise.ipynb"
    for _ in range(100):
        page.wait_for_timeout(100)
        if "towerlift-still" in file.read_text(encoding="utf-8"):
            break
    saved = file.read_text(encoding="utf-8")
    assert "data:image/png;base64" in saved
    assert len(saved) < 1_000_000
    book = json.loads(saved)
    assert "widgets" not in book["metadata"]
    shutil.copy(file, root / "kept.ipynb")


def test_state_in_a_notebook_would_be_small_too(opened):
    _, _, page, _ = opened
    state = in_kernel(
        page,
        "import json; print(len(json.dumps({k: str(v) for k, v in view.get_state().items()})))",
    )
    assert int(state) < 20_000


def test_a_restarted_kernel_leaves_no_view_that_seems_to_live(opened):
    _, _, page, _ = opened
    page.locator(".lm-MenuBar-item", has_text="Kernel").first.click()
    page.locator(".lm-Menu-itemLabel", has_text="Restart Kernel…").first.click()
    page.locator(".jp-Dialog button.jp-mod-accept").click()
    page.wait_for_function(
        """() => [...document.querySelectorAll(".tlv")].every((e) => e.dataset.stale === "true"
            && e.querySelector(".tlv-away").textContent.includes("run the cell again"))""",
        timeout=60_000,
    )


def test_a_reopened_notebook_shows_its_picture_and_no_live_view(opened, starter_outcome):
    base, _, page, _ = opened
    page.goto(f"{base}/lab/tree/kept.ipynb?reset")
    page.wait_for_selector(".towerlift-still img", timeout=60_000)
    assert page.locator(".tlv").count() == 0
    image = page.locator(".towerlift-still img").first
    assert image.is_visible()
    assert image.evaluate("e => e.naturalWidth") > 300
    words = page.locator(".towerlift-still figcaption").first.inner_text()
    assert f"When this was reckoned: {summary(starter_outcome.findings)}." in words
    assert "does not replace a licensed engineer" in words


def open_in_notebook_7(base, page, name, ready):
    """Run all of a notebook in Notebook 7, and wait until its views are there."""
    page.goto(f"{base}/notebooks/{name}.ipynb")
    page.wait_for_selector(".jp-Notebook .jp-Cell")
    page.wait_for_selector(".jp-NotebookKernelStatus, .jp-Notebook-ExecutionIndicator")
    page.wait_for_timeout(3000)
    page.locator(".lm-MenuBar-item", has_text="Run").first.click()
    page.locator(".lm-Menu-itemLabel", has_text="Run All Cells").first.click()
    page.wait_for_function(ready, timeout=120_000)


def test_notebook_7_shows_the_same(opened):
    base, root, page, _ = opened
    shutil.copy(root / "raise.ipynb", root / "seven.ipynb")
    open_in_notebook_7(base, page, "seven", TWO)
    tell(page, f"view.goTo({RISING + 0.5});")
    settled(page)
    assert "least gap" in page.locator(".tlv-lens").first.inner_text()


def try_the_planners_panel(page, outcome, folder):
    """Its panes open, a what-if and a gap are answered, and a picture is made."""
    page.locator(".towerlift").first.scroll_into_view_if_needed()
    tell(page, f"view.goTo({RISING + 0.5});")
    settled(page)
    # So long that the kernel has been told where the view is.
    page.wait_for_timeout(1500)

    def pane(name):
        page.locator(".towerlift .widget-toggle-buttons button", has_text=name).first.click()

    pane("What if")
    page.locator('.tlv-sliders input[data-key="drift_east"]').wait_for()
    rows = page.locator(".tlv-try").evaluate_all(
        "all => all.map(e => [e.querySelector('input'), e.querySelector('output')]"
        ".map(x => x.getBoundingClientRect()).flatMap(b => [b.left, b.right]))"
    )
    # In a grid: what stands in one column begins and ends alike.
    assert len({tuple(round(x) for x in row) for row in rows}) <= 2
    page.locator('.tlv-sliders input[data-key="drift_east"]').fill("60")
    page.wait_for_function(
        "() => document.querySelector('.tlv-answer').textContent.includes('held by hand')",
        timeout=60_000,
    )
    assert "clearance" in page.locator(".tlv-answer").inner_text()
    # From where it rests, which is some millimetres beside the plumb line.
    drift = tell(page, "return view.changes.base.driftX;")
    assert drift == pytest.approx(0.06, abs=0.005)
    OUTPUT.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=OUTPUT / f"panel-what-if-{folder.name}.png")
    lines = tell(page, "return view.answerLoads.lines.map((each) => each.tension);")
    weight = next(h.weight[0] for h in outcome.hangs if h.passage == RISING)
    assert sum(lines) == pytest.approx(weight, rel=0.03)
    colour_every_piece(page, outcome)
    pane("Gaps")
    gaps = page.locator(".towerlift .widget-select select[size] option")
    gaps.first.wait_for(state="attached")
    assert any("base" in each for each in gaps.all_inner_texts())
    pane("Pictures")
    page.locator(".towerlift button", has_text="Make").click()
    page.wait_for_selector(".towerlift p:has-text('Written: pictures/')", timeout=120_000)
    assert any((folder / "pictures").iterdir())
    pane("Raise")
    wide = page.evaluate("() => document.querySelector('.towerlift').getBoundingClientRect()")
    assert wide["x"] >= 0
    assert wide["x"] + wide["width"] <= page.viewport_size["width"]


def colour_every_piece(page, outcome):
    """Asked by the button, the kernel measures every piece of the haul, once."""
    page.locator(".tlv-gaps").click()
    page.wait_for_function(f"() => {VIEWS}[0].gapsMeasured.size === 1", timeout=60_000)
    told = tell(
        page,
        """const least = view.leastByMember(view.now.run);
        const own = view.members.filter(({ body }) => body.name === "base");
        const of = (mark) => least.get(view.memberOf.get(`base|${mark}`)) ?? null;
        return own.map(({ mark }) => [mark, of(mark)]);
        """,
    )
    base = next(s for s in outcome.plan.sections if s.name == "base")
    assert [mark for mark, _ in told] == [member.mark for member in base.members]
    # An infinite gap, half a metre or more, comes as nothing through JSON.
    assert sum(least is not None and 0.2 < least < 0.5 for _, least in told) >= 8
    page.locator(".tlv-gaps").click()


def test_notebook_7_shows_the_planners_panel(opened, starter_outcome):
    base, root, page, _ = opened
    write_notebook(root, starter_outcome, "panel", PANEL)
    open_in_notebook_7(base, page, "panel", ONE)
    try_the_planners_panel(page, starter_outcome, root)


# ------------------------------------------------------------- Voila


@contextmanager
def running_voila(folder, name):
    """Voila on a notebook of a folder; gives the port."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
    folders = {
        "JUPYTER_CONFIG_DIR": "config",
        "JUPYTER_DATA_DIR": "data",
        "JUPYTER_RUNTIME_DIR": "runtime",
        "IPYTHONDIR": "ipython",
    }
    env = {**os.environ, **{key: str(folder / name) for key, name in folders.items()}}
    command = [
        *(sys.executable, "-m", "voila", f"{name}.ipynb", "--no-browser"),
        *(f"--port={port}", "--Voila.ip=127.0.0.1"),
    ]
    log = (folder / "voila.log").open("wb")
    server = subprocess.Popen(command, cwd=folder, env=env, stdout=log, stderr=log)
    try:
        wait_for(f"http://127.0.0.1:{port}/static/", server, folder / "voila.log")
        yield port
    finally:
        server.terminate()
        server.wait(20)
        log.close()


def test_voila_shows_the_view_without_code(opened, starter_outcome, tmp_path):
    _, _, page, _ = opened
    write_notebook(tmp_path, starter_outcome)
    with running_voila(tmp_path, "raise") as port:
        page.goto(f"http://127.0.0.1:{port}/")
        page.wait_for_function(TWO, timeout=120_000)
        tell(page, f"view.goTo({RISING + 0.5});")
        settled(page)
        assert "least gap" in page.locator(".tlv-lens").first.inner_text()
        assert "ScrubView(" not in page.locator("body").inner_text()
        stills_where_nothing_can_be_drawn(page, port, starter_outcome)


def test_voila_shows_the_planners_panel(opened, starter_outcome, tmp_path):
    _, _, page, _ = opened
    write_notebook(tmp_path, starter_outcome, "panel", PANEL)
    with running_voila(tmp_path, "panel") as port:
        page.goto(f"http://127.0.0.1:{port}/")
        page.wait_for_function(ONE, timeout=120_000)
        assert "PlannerPanel(" not in page.locator("body").inner_text()
        try_the_planners_panel(page, starter_outcome, tmp_path)


def stills_where_nothing_can_be_drawn(page, port, outcome):
    """Without WebGL the same slider brings pictures that the kernel draws."""
    blind = page.context.browser.new_page(viewport={"width": 1366, "height": 768})
    blind.set_default_timeout(120_000)
    blind.add_init_script(
        """const real = HTMLCanvasElement.prototype.getContext;
        HTMLCanvasElement.prototype.getContext = function (kind, ...rest) {
            return kind.startsWith("webgl") ? null : real.call(this, kind, ...rest);
        };"""
    )
    blind.goto(f"http://127.0.0.1:{port}/")
    blind.wait_for_function(TWO)
    passage, scene = outcome.raise_.passages[RISING], build_scene(outcome)
    for share in (0.2, 0.8):
        tell(blind, f"view.goTo({RISING + share});")
        blind.wait_for_function(
            f"""() => {{ const view = {VIEWS}[0]; return view.still?.naturalWidth > 0
                && !view.stillOut && view.stillNumber === Math.round(1e6 * view.position); }}"""
        )
        blind.wait_for_timeout(500)
        size = tell(blind, "return [view.still.naturalWidth, view.still.naturalHeight];")
        seen = screen(blind)
        girt = np.array([[0.4, -1.7, passage.heel("base", share) + 1.9]])
        ((x, y),) = whole_tower(scene, tuple(size)).pixels(girt, tuple(size))
        # The picture is shrunk, whole, to leave room for the line that says why it is one.
        left, top, wide, high = tell(
            blind,
            """const still = view.still.getBoundingClientRect();
            const sight = view.still.closest(".tlv-sight").getBoundingClientRect();
            return [still.x - sight.x, still.y - sight.y, still.width, still.height];""",
        )
        scale = min(wide / size[0], high / size[1])
        across = left + (wide - scale * size[0]) / 2 + scale * x
        down = top + (high - scale * size[1]) / 2 + scale * y
        assert looks_like(seen[round(down), round(across)], LARCH)
        assert "least gap" in blind.locator(".tlv-lens").first.inner_text()
    blind.close()


def wait_for(address, server, log):
    opener, end = build_opener(ProxyHandler({})), time.monotonic() + 60
    while time.monotonic() < end and server.poll() is None:
        try:
            with opener.open(address, timeout=5):
                return
        except URLError as error:
            if getattr(error, "code", None) is not None:
                return  # it answers, if only that there is nothing at that address
            time.sleep(0.3)
    pytest.fail(f"Voila did not start:\n{log.read_text(errors='replace')[-3000:]}")
