"""Small pieces of HTML, all text escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

Cell = str | tuple[str, str]
"""A text, or a text and its CSS class."""


def element(tag: str, text: str, css_class: str = "") -> str:
    """Wrap a text, which is escaped."""
    return wrapped(tag, escape(text), css_class)


def wrapped(tag: str, inner_html: str, css_class: str = "") -> str:
    """Wrap what is HTML already."""
    attribute = f' class="{escape(css_class)}"' if css_class else ""
    return f"<{tag}{attribute}>{inner_html}</{tag}>"


def bullets(texts: Iterable[str]) -> str:
    """List texts."""
    return wrapped("ul", "".join(element("li", text) for text in texts))


def section(title: str, inner_html: str, css_class: str = "") -> str:
    """Put a heading over what belongs together."""
    return wrapped("section", element("h2", title) + inner_html, css_class)


def table(heads: Sequence[str], rows: Iterable[Sequence[Cell]], css_class: str = "") -> str:
    """Make a plain table; the first cell of each row heads it."""
    return grouped_table(heads, [("", rows)], css_class)


def grouped_table(
    heads: Sequence[str], groups: Iterable[tuple[str, Iterable[Sequence[Cell]]]], css_class: str = ""
) -> str:
    """Make a table of groups that print does not split, each with a heading line of HTML unless empty."""
    head = wrapped("thead", wrapped("tr", "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)))
    bodies = []
    for heading_html, rows in groups:
        lines = []
        if heading_html:
            lines.append(
                f'<tr class="group"><th scope="rowgroup" colspan="{len(heads)}">{heading_html}</th></tr>'
            )
        lines += [_table_row(row, heads) for row in rows]
        bodies.append(wrapped("tbody", "".join(lines)))
    return wrapped("div", wrapped("table", head + "".join(bodies), css_class), "wide")


def _table_row(cells: Sequence[Cell], heads: Sequence[str]) -> str:
    """Make a row; each cell carries its column's head, which a narrow screen shows beside it."""
    (first, first_class), *others = [(cell, "") if isinstance(cell, str) else cell for cell in cells]
    attribute = f' class="{escape(first_class)}"' if first_class else ""
    head = f'<th scope="row"{attribute}>{escape(first)}</th>'
    if len(others) == 1:  # a remark on the row before, as wide as the table
        (text, css_class), *_ = others
        return wrapped("tr", f'{head}<td colspan="{len(heads) - 1}" class="{css_class}">{escape(text)}</td>')
    columns = zip(heads[1:], others, strict=True)
    return wrapped(
        "tr", head + "".join(_cell(column, text, css_class) for column, (text, css_class) in columns)
    )


def _cell(column: str, text: str, css_class: str) -> str:
    attribute = f' class="{escape(css_class)}"' if css_class else ""
    return f'<td{attribute} data-head="{escape(column)}">{escape(text)}</td>'
