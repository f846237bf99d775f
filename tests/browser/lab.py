"""JupyterLab on a free port of this machine, and a chromium to look at it."""

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.error import URLError
from urllib.request import ProxyHandler, build_opener

import pytest
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
OUTPUT = ROOT / "build" / "browser"
CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LAPTOP = (1366, 768)
PATIENCE = 120.0  # until the server answers, until a cell is done [s]
QUIET_SETTINGS = {
    "@jupyterlab/apputils-extension/notification": {
        "checkForUpdates": False,
        "fetchNews": "false",
    },
    "@jupyterlab/docmanager-extension/plugin": {"autosave": False},
}


@contextmanager
def running_lab(root: Path) -> Iterator[str]:
    """A server whose files, settings and kernels are all below one folder."""
    port = free_port()
    settings = root / "settings"
    for name, values in QUIET_SETTINGS.items():
        file = settings / f"{name}.jupyterlab-settings"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(values), encoding="utf-8")
    folders = {
        "JUPYTER_CONFIG_DIR": "config",
        "JUPYTER_DATA_DIR": "data",
        "JUPYTER_RUNTIME_DIR": "runtime",
        "IPYTHONDIR": "ipython",
        "JUPYTERLAB_SETTINGS_DIR": "settings",
        "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
    }
    env = {**os.environ, **{key: str(root / name) for key, name in folders.items()}}
    env.pop("TOWERLIFT_PLAN", None)
    command = [
        *(sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root"),
        *("--ip=127.0.0.1", f"--port={port}", "--ServerApp.port_retries=0"),
        *("--IdentityProvider.token=", "--ServerApp.password=", f"--notebook-dir={root}"),
    ]
    log = (root / "server.log").open("wb")
    server = subprocess.Popen(command, cwd=root, env=env, stdout=log, stderr=log)
    try:
        base = f"http://127.0.0.1:{port}"
        _wait_for(base, server, root / "server.log")
        yield base
    finally:
        server.terminate()
        try:
            server.wait(20)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()
        log.close()


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
        return port


def _wait_for(base: str, server: "subprocess.Popen[bytes]", log: Path) -> None:
    opener, end = build_opener(ProxyHandler({})), time.monotonic() + PATIENCE
    while time.monotonic() < end and server.poll() is None:
        try:
            with opener.open(f"{base}/api/status", timeout=5):
                return
        except (URLError, OSError):
            time.sleep(0.2)
    pytest.fail(f"JupyterLab did not start:\n{log.read_text(errors='replace')[-3000:]}")


@contextmanager
def laptop_page() -> Iterator[Page]:
    """A page of the size of a small laptop's, in Debian's chromium."""
    if not CHROMIUM.exists():
        pytest.fail(
            f"{CHROMIUM} is missing, so the notebooks were not tried in a browser. "
            "As root: apt-get update && apt-get install chromium"
        )
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        page = browser.new_page(viewport={"width": LAPTOP[0], "height": LAPTOP[1]})
        page.set_default_timeout(1000 * PATIENCE)
        try:
            yield page
        finally:
            browser.close()


@contextmanager
def example_lab(root: Path) -> Iterator[tuple[str, Page]]:
    """JupyterLab on a copy of notebooks and example below one folder, and a page to see it."""
    for name in ("notebooks", "meshes"):
        shutil.copytree(ROOT / name, root / name)
    OUTPUT.mkdir(parents=True, exist_ok=True)
    with running_lab(root) as base, laptop_page() as page:
        yield base, page


def open_notebook(base: str, page: Page, name: str, shows: str, patience_ms: int) -> None:
    """Run a notebook till it shows something and rests, and keep a picture of how it opened."""
    run_all_cells(page, f"{base}/lab/tree/notebooks/{name}.ipynb")
    try:
        page.wait_for_selector(shows, timeout=patience_ms)
        page.wait_for_selector(
            '.jp-Notebook-ExecutionIndicator[data-status="idle"]', timeout=patience_ms
        )
    finally:
        page.screenshot(path=OUTPUT / f"{name}-opened.png")


def cell_errors(page: Page) -> list[str]:
    """What cells printed as errors."""
    shown = page.locator('.jp-OutputArea-output[data-mime-type*="error"]')
    errors: list[str] = shown.all_inner_texts()
    return errors


def cells_not_run(page: Page) -> list[str]:
    """Marks of the cells that have no number, since they have not run to their end."""
    marks = page.locator(".jp-CodeCell .jp-InputPrompt").all_inner_texts()
    return [mark for mark in marks if not re.fullmatch(r"\[\d+\]:", mark)]


def run_all_cells(page: Page, url: str) -> None:
    """Open a notebook, shut the side bar and run everything in it."""
    page.goto(url)
    page.wait_for_selector(".jp-Notebook .jp-Cell")
    page.wait_for_selector(".jp-NotebookPanel-toolbar")
    if page.locator(".jp-SidePanel:visible, #jp-left-stack:visible").count():
        page.keyboard.press("Control+b")
    # Asked to run before its kernel is there, the notebook asks back which kernel to take.
    _wait_for_kernel(page, url)
    page.locator(".lm-MenuBar-item", has_text="Run").first.click()
    page.locator(".lm-Menu-itemLabel", has_text="Run All Cells").first.click()


def _wait_for_kernel(page: Page, url: str) -> None:
    kernels = f"{url.partition('/lab')[0]}/api/kernels"
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        answer = page.request.get(kernels)
        # A server that is just starting a kernel may answer with an error.
        running = answer.json() if answer.ok else []
        if any(k["connections"] and k["execution_state"] == "idle" for k in running):
            page.wait_for_selector('.jp-Notebook-ExecutionIndicator[data-status="idle"]')
            return
        page.wait_for_timeout(200)
    pytest.fail(f"no kernel came up for {url}")
