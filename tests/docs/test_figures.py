"""The figures of the pages: each is there and named, small, white, and drawn by the code as it is."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"
DRAWN = DOCS / "figures"
PAGES = {page.name: page.read_text(encoding="utf-8") for page in sorted(DOCS.glob("*.md"))}

_FIGURE = re.compile(r"!\[([^\]]*)\]\((figures/[^)\s]+)\)")
_WIDE_PT = re.compile(r"(\d+(?:\.\d+)?)pt")

SMALL_BYTES, TOGETHER_BYTES = 60_000, 250_000


def named() -> list[tuple[str, str, str]]:
    """Page, words in place of the figure, and path of each figure."""
    return [(page, words, path) for page, text in PAGES.items() for words, path in _FIGURE.findall(text)]


@pytest.mark.parametrize(("page", "words", "path"), named())
def test_a_figure_that_a_page_shows_exists_and_is_said_in_words(page: str, words: str, path: str) -> None:
    assert (DOCS / path).is_file()
    assert len(words.split()) >= 5


def test_every_figure_is_shown_on_a_page() -> None:
    shown = {path for _, _, path in named()}
    assert {f"figures/{figure.name}" for figure in DRAWN.iterdir()} == shown
    assert len(shown) >= 4


def test_figures_are_small() -> None:
    sizes = [figure.stat().st_size for figure in DRAWN.iterdir()]
    assert max(sizes) < SMALL_BYTES
    assert sum(sizes) < TOGETHER_BYTES


@pytest.mark.parametrize("figure", sorted(DRAWN.iterdir()), ids=lambda figure: figure.name)
def test_a_figure_is_white_and_without_a_date(figure: Path) -> None:
    text = figure.read_text(encoding="utf-8")
    size = ElementTree.fromstring(text).attrib
    assert float(_WIDE_PT.fullmatch(size["width"])[1]) <= 600.0  # type: ignore[index]
    assert "fill: #ffffff" in text
    assert "dc:date" not in text


def test_the_script_draws_every_figure_with_the_code_as_it_is(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib", reason='pip install ".[test]"')
    command = [sys.executable, str(DOCS / "draw_curve_figures.py"), "--into", str(tmp_path)]
    environment = os.environ | {"PYTHONPATH": str(DOCS.parent)}
    ran = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=180, check=False)
    assert ran.returncode == 0, ran.stderr
    assert {drawn.name for drawn in tmp_path.iterdir()} == {figure.name for figure in DRAWN.iterdir()}
    for drawn in tmp_path.iterdir():
        ElementTree.parse(drawn)
        assert drawn.stat().st_size < SMALL_BYTES
