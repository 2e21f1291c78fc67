"""The pages in a real browser that has no network: they draw, and ask for nothing."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from html import escape
from pathlib import Path

import pytest

from logger.compare import Brew
from logger.show.pages.report_page import report_page

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")

pytestmark = pytest.mark.skipif(BROWSER is None, reason="needs a browser: apt-get install chromium")


def _opened(page: str, folder: Path, *options: str) -> tuple[str, str]:
    """Open a page, let its scripts run, and give the document then and what was logged."""
    path = folder / "report.html"
    path.write_text(page, encoding="utf-8")
    assert BROWSER is not None
    command = [
        BROWSER,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--host-resolver-rules=MAP * ~NOTFOUND",
        f"--user-data-dir={folder / 'profile'}",
        "--enable-logging=stderr",
        "--v=0",
        "--virtual-time-budget=6000",
        "--hide-scrollbars",
        "--dump-dom",
        *options,
        path.as_uri(),
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=240, check=True, encoding="utf-8")
    return done.stdout, done.stderr


def _without_library(document: str) -> str:
    return re.sub(r"<script>.*?</script>", "", document, flags=re.DOTALL)


def _with_a_nasty_title(brew: Brew) -> Brew:
    own = "document.body.id='owned'"
    nasty = f'</title></script><script>{own}</script><img src=x onerror="{own}">'
    meta = replace(brew.recording.meta, title=nasty, notes=nasty)
    return replace(brew, recording=replace(brew.recording, meta=meta))


def test_the_report_draws_on_a_laptop_in_the_dark_and_runs_nothing_of_a_nasty_title(
    brew: Brew, tmp_path: Path
) -> None:
    probe = """<script>
      const outcome = document.createElement("p");
      outcome.id = "outcome";
      outcome.textContent = JSON.stringify({
        wide: document.documentElement.scrollWidth > window.innerWidth,
        fetched: performance.getEntriesByType("resource").map((entry) => entry.name),
      });
      document.body.append(outcome);
    </script>"""
    page = report_page(_with_a_nasty_title(brew)).replace("</body>", f"{probe}</body>")
    options = ("--window-size=1280,800", "--blink-settings=preferredColorScheme=0")
    document, log = _opened(page, tmp_path, *options)
    shown = _without_library(document)
    assert shown.count('class="main-svg"') >= 2
    assert ">4.2&nbsp;g heavy<" in shown
    assert "rgb(86, 180, 233)" in shown  # the curve, in the dark theme's blue
    assert '{"wide":false,"fetched":[]}' in shown
    assert 'id="owned"' not in document
    assert "CONSOLE" not in log


def test_the_report_fits_a_phone(brew: Brew, tmp_path: Path) -> None:
    # A window cannot be as narrow as a phone; a frame can.
    probe = "<script>parent.postMessage(document.documentElement.scrollWidth, '*')</script></body>"
    inner = escape(report_page(brew).replace("</body>", probe))
    outer = f"""<!DOCTYPE html><p id="told"></p>
      <script>addEventListener("message", (event) => told.textContent = "as wide as " + event.data);</script>
      <iframe style="width: 390px; height: 844px; border: 0" srcdoc="{inner}"></iframe>"""
    document, log = _opened(outer, tmp_path)
    assert '<p id="told">as wide as 390</p>' in document
    assert "CONSOLE" not in log
