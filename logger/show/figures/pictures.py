"""Figures as PNG and SVG files, drawn by a browser that is on this machine; nothing is fetched.

The library that draws the pages runs in a browser alone, so a browser draws the pictures: Chromium or one
that is built on it, without a window, without network.
"""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import unquote_to_bytes

from logger.errors import FailureError
from logger.recording.disk import refusal, replacing
from logger.recording.store import slug
from logger.show.figures.palette import LIGHT

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from logger.show.figures.figure import Figure

BROWSER_VARIABLE = "EVENCUP_BROWSER"
KINDS = ("png", "svg")
_WIDTH_PX = 900
_LONGEST_S = 120
_COMMANDS = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome",
    "microsoft-edge", "msedge",
)  # fmt: skip
_PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
_NEEDED = (
    "Install Chromium (apt-get install chromium), Chrome or Edge, or name one in EVENCUP_BROWSER. Without "
    "one: open the page of --html and press PNG or SVG below the figure."
)
_SWITCHES = (
    "--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-quic", "--host-resolver-rules=MAP * ~NOTFOUND",
    "--virtual-time-budget=600000", "--dump-dom",
)  # fmt: skip
_DRAW = """
(async () => {
  const figures = JSON.parse(document.getElementById("figures").textContent);
  const place = document.getElementById("place");
  const drawn = [];
  for (const { data, layout } of figures) {
    const size = { width: WIDTH, height: layout.height || 450 };
    layout.paper_bgcolor = "PAPER";
    await Plotly.newPlot(place, data, { ...layout, ...size });
    const pictures = {};
    for (const format of KINDS) pictures[format] = await Plotly.toImage(place, { format, ...size, scale: 2 });
    drawn.push(pictures);
  }
  document.documentElement.textContent = "";
  const told = document.createElement("pre");
  told.textContent = "PICTURES" + btoa(unescape(encodeURIComponent(JSON.stringify(drawn)))) + "END";
  document.documentElement.append(told);
})();
"""


def browser() -> str | None:
    """Find a browser that can draw; None where there is none.

    The environment variable ``EVENCUP_BROWSER`` names one.
    """
    if named := os.environ.get(BROWSER_VARIABLE):
        return shutil.which(named)
    found = (shutil.which(command) for command in _COMMANDS)
    return next((one for one in (*found, *_PLACES) if one and Path(one).exists()), None)


def write_pictures(figures: Sequence[Figure], folder: Path, stem: str) -> list[Path]:
    """Write every view of every figure as PNG and as SVG.

    :param folder: where they go; made where it does not exist
    :param stem: what their names begin with
    :return: the files, in the order of the figures
    :raises FailureError: when no browser is found, it does not draw, or the disk refuses
    """
    views = [
        (figure.key, view.key, len(figure.views) == 1, view.figure)
        for figure in figures
        for view in figure.views
    ]
    drawn = pictures(one for *_, one in views)
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refusal(folder, "make a folder for the pictures", error) from error
    for (key, view_key, is_single, _), picture in zip(views, drawn, strict=True):
        for kind in KINDS:
            name = view_key if stem.endswith(key) or is_single else f"{key} {view_key}"
            path = folder / f"{stem}-{slug(name)}.{kind}"
            with replacing(path) as part:
                part.write_bytes(picture[kind])
            written.append(path)
    return written


def pictures(figures: Iterable[go.Figure]) -> list[dict[str, bytes]]:
    """Draw figures on light paper: of each its ``png``, 1800 pixels wide, and its ``svg``.

    :raises FailureError: when no browser is found, or it does not draw
    """
    program = browser()
    if program is None:
        raise FailureError("pictures", "there is no browser to draw them with", _NEEDED)
    with tempfile.TemporaryDirectory(prefix="evencup-") as folder:
        place = Path(folder) / "figures.html"
        place.write_text(_page(figures), encoding="utf-8")
        document = _opened(program, place)
    found = re.search(r"PICTURES([A-Za-z0-9+/=]*)END", document)
    if found is None:
        raise FailureError("pictures", f"{program} did not draw them", _NEEDED)
    drawn = json.loads(base64.b64decode(found[1]))
    return [{kind: _bytes_of(one[kind]) for kind in KINDS} for one in drawn]


def _opened(program: str, place: Path) -> str:
    """Open a page, let its script run, and give the document then."""
    switches = [*_SWITCHES, f"--user-data-dir={place.parent / 'profile'}"]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        switches.append("--no-sandbox")  # which such a browser insists on when root starts it
    try:
        done = subprocess.run(
            [program, *switches, place.as_uri()], capture_output=True, timeout=_LONGEST_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise FailureError("pictures", f"{program} did not draw them: {error}", _NEEDED) from error
    return done.stdout.decode("utf-8", "replace")


def _page(figures: Iterable[go.Figure]) -> str:
    from plotly.offline import get_plotlyjs

    script = _DRAW.replace("WIDTH", str(_WIDTH_PX)).replace("PAPER", LIGHT.paper)
    script = script.replace("KINDS", json.dumps(KINDS))
    made = f"[{', '.join(str(figure.to_json()) for figure in figures)}]".replace("<", "\\u003c")
    return (
        '<!DOCTYPE html><meta charset="utf-8"><div id="place"></div>'
        f'<script type="application/json" id="figures">{made}</script>'
        f"<script>{get_plotlyjs()}</script><script>{script}</script>"
    )


def _bytes_of(address: str) -> bytes:
    """Read a data URL."""
    head, _, body = address.partition(",")
    return base64.b64decode(body) if head.endswith(";base64") else unquote_to_bytes(body)
