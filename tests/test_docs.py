"""What README and docs say can be done can be done: commands, options, files and links exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.logger.commands.command_tree import commands, misunderstood

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
TEXTS = {str(page.relative_to(ROOT)): page.read_text(encoding="utf-8") for page in PAGES if page.exists()}

_FENCED = re.compile(r"^```[^\n]*\n(.*?)^```", re.DOTALL | re.MULTILINE)
_INDENTED = re.compile(r"^(?: {4}|\t)\S.*$", re.MULTILINE)
_IN_LINE = re.compile(r"`(evencup [^`]+)`")
_LINK = re.compile(r"\]\(([^)#\s]+)(#[^)\s]*)?\)")


def command_lines(text: str) -> list[str]:
    """Every ``evencup ...`` in code: fenced, indented, or in a line of text; broken lines put together."""
    fenced = re.sub(r"\\\n\s*", "", "\n".join(_FENCED.findall(text)))
    indented = "\n".join(_INDENTED.findall(_FENCED.sub("", text)))
    lines = [line.strip().removeprefix("$ ") for line in f"{fenced}\n{indented}".splitlines()]
    return [line for line in lines if line.startswith("evencup ")] + _IN_LINE.findall(text)


LINES = sorted({(page, line) for page, text in TEXTS.items() for line in command_lines(text)})


@pytest.mark.parametrize(("page", "line"), LINES)
def test_a_command_line_would_be_understood(page: str, line: str) -> None:
    assert misunderstood(line) == []


def test_command_lines_are_found_where_they_stand() -> None:
    text = "As `evencup list` says.\n\n```sh\nevencup report \\\n  one --html\n```\n\n    $ evencup devices\n"
    assert command_lines(text) == ["evencup report one --html", "evencup devices", "evencup list"]


@pytest.mark.parametrize("words", [" ".join(("evencup", *words)) for words, _ in commands() if words])
def test_every_command_is_named_for_users(words: str) -> None:
    text = "\n".join(text for page, text in TEXTS.items() if page != "DEVELOPERS.md")
    assert re.search(rf"{words}\b", text)


@pytest.mark.parametrize(
    ("page", "link"),
    sorted(
        {
            (page, target)
            for page, text in TEXTS.items()
            for target, _ in _LINK.findall(_FENCED.sub("", text))
            if "://" not in target
        }
    ),
)
def test_a_link_leads_somewhere(page: str, link: str) -> None:
    assert (ROOT / page).parent.joinpath(link).exists()


@pytest.mark.parametrize(
    ("page", "path"),
    sorted(
        {
            (page, path)
            for page, line in LINES
            for path in re.findall(r"(?<![\w/])recordings/[\w./-]+", line)
            if page == "README.md"
        }
    ),
)
def test_the_files_that_the_readme_uses_are_there(page: str, path: str) -> None:
    assert (ROOT / path).exists()
