"""The example notebook runs, and what it shows is what it would show today."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.logger.show.browsing import BROWSER, NO_BROWSER

DOCS = Path(__file__).parents[2] / "docs"
NOTEBOOK = DOCS / "practice.ipynb"
_RUN = """
import sys
import nbformat
from nbclient import NotebookClient
book = nbformat.read(sys.argv[1], as_version=4)
NotebookClient(book, timeout=300, resources={"metadata": {"path": sys.argv[2]}}).execute()
print(nbformat.writes(book))
"""


def _outputs(book: dict[str, Any]) -> list[str]:
    """Of each cell of code what it printed, in how many pieces ever, and the kinds of what it displays."""
    return [
        "".join(
            "".join(one["text"]) if "text" in one else " ".join(sorted(one.get("data", one)))
            for one in cell["outputs"]
        ).rstrip()
        for cell in book["cells"]
        if cell["cell_type"] == "code"
    ]


def test_the_notebook_is_small_and_was_run_to_its_end() -> None:
    assert NOTEBOOK.stat().st_size < 300_000
    outputs = _outputs(json.loads(NOTEBOOK.read_text(encoding="utf-8")))
    assert all(outputs)
    assert not any("Traceback" in text or "Error" in text for text in outputs)


@pytest.mark.skipif(BROWSER is None, reason=NO_BROWSER)
def test_the_notebook_runs_and_says_the_same(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", _RUN, str(NOTEBOOK), str(DOCS)],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "EVENCUP_CACHE": str(tmp_path), "PYTHONPATH": str(DOCS.parent)},
    )
    assert done.returncode == 0, done.stderr[-2000:]
    made = _outputs(json.loads(done.stdout))
    assert made == _outputs(json.loads(NOTEBOOK.read_text(encoding="utf-8")))
