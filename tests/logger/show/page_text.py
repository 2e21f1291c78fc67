"""A page as a reader gets it, for tests: the words that are shown, without scripts and styles."""

from __future__ import annotations

import re
from html import unescape

_HIDDEN = re.compile(r"<(script|style|svg|title)\b.*?</\1>", re.DOTALL)


def shown_text(page: str) -> str:
    """The words on a page, each element's on a line of its own; spaces are plain."""
    without = re.sub(r"<[^>]+>", "\n", _HIDDEN.sub("", page))
    return re.sub(r"[ \t]+", " ", unescape(without).replace("\u00a0", " "))


def without_captions(page: str) -> str:
    """The page less the sentences under figures and tables, whose numbers are definitions, not results."""
    page = re.sub(r"<figcaption.*?</figcaption>", "", page, flags=re.DOTALL)
    return re.sub(r'<p class="under-figure">.*?</p>', "", page, flags=re.DOTALL)
