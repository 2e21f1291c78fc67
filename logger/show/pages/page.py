"""The shell of every page: one self-contained file that needs no network, ever."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from html import escape
from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING, Any

from logger.show.figures.axes import TICK_STEPS_S
from logger.show.figures.figure import Figure
from logger.show.figures.palette import DARK, DASHES, LIGHT, css_variables, dark_for_light
from logger.show.pages.markup import element, wrapped

if TYPE_CHECKING:
    pass

# The policy forbids the page to load anything from anywhere, whatever a script in it may try.
_SHELL = Template("""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; script-src 'unsafe-inline'; \
style-src 'unsafe-inline'; img-src data: blob:">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>$title</title>
<style>
:root { $light }
@media (prefers-color-scheme: dark) { :root { $dark } }
@media print { :root { $light } }
$style
</style>
</head>
<body>
<main>
$body
</main>
$scripts
</body>
</html>
""")


_MOST_RADIOS = 5
_SAVE = '<button type="button" data-save="{kind}" data-figure="{key}">{word}</button>'


def figure_place(figure: Figure) -> str:
    """Say where a figure goes, with the choice of its views, its caption, and the way to save it."""
    key = escape(figure.key)
    drawn = (
        f'<div class="drawn" id="{key}" role="img" aria-label="{escape(figure.label)}">'
        "<noscript>The figure needs JavaScript.</noscript></div>"
    )
    saves = "".join(_SAVE.format(kind=kind, key=key, word=kind.upper()) for kind in ("png", "svg"))
    save = f'<p class="save">Save this picture as {saves}</p>'
    caption = element("figcaption", figure.caption, "under-figure")
    return wrapped("figure", _chooser(figure) + drawn + caption + save)


def _chooser(figure: Figure) -> str:
    """Let the reader choose among views: side by side where they are few, in a list where they are many."""
    if len(figure.views) < 2:
        return ""
    key = escape(figure.key)
    if len(figure.views) > _MOST_RADIOS:
        options = "".join(
            f'<option value="{escape(view.key)}">{escape(view.label)}</option>' for view in figure.views
        )
        return f'<p class="views"><label>Show <select data-view-of="{key}">{options}</select></label></p>'
    radios = "".join(
        f'<label><input type="radio" name="view-{key}" value="{escape(view.key)}" data-view-of="{key}"'
        f"{'' if number else ' checked'}><span>{escape(view.label)}</span></label>"
        for number, view in enumerate(figure.views)
    )
    return f'<fieldset class="views"><legend>Show</legend>{radios}</fieldset>'


def page(
    title: str, body_html: str, figures: Sequence[Figure], data: Any, lines: Mapping[str, Any] | None = None
) -> str:
    """Put a page together.

    :param body_html: escaped, with the :func:`figure_place` of each figure in it
    :param data: what the page shows, for programs that read it; strict JSON
    :param lines: brews that are drawn when they are asked for, by view; see ``overlay_lines``
    """
    scripts = [_json_script("evencup-data", json.dumps(data, ensure_ascii=False, allow_nan=False))]
    if figures:
        scripts += _figure_scripts(figures, lines)
    return _SHELL.substitute(
        title=escape(title),
        light=css_variables(LIGHT),
        dark=css_variables(DARK),
        style=_own_file("page.css"),
        body=body_html,
        scripts="\n".join(scripts),
    )


def _figure_scripts(figures: Sequence[Figure], lines: Mapping[str, Any] | None) -> list[str]:
    from plotly.offline import get_plotlyjs

    looks = {
        "dark_for_light": dark_for_light(),
        "tick_steps_s": TICK_STEPS_S,
        "lines": LIGHT.lines,
        "dashes": DASHES,
        "bundle": LIGHT.bundle,
    }
    views = ", ".join(f"{json.dumps(figure.key)}: {{{_views_json(figure)}}}" for figure in figures)
    made = [_json_script("figure-data", f"{{{views}}}"), _json_script("figure-looks", json.dumps(looks))]
    if lines is not None:
        made.append(_json_script("line-data", json.dumps(lines, ensure_ascii=False, allow_nan=False)))
    return [
        *made,
        f"<script>{get_plotlyjs()}</script>",
        f"<script>\n{_own_file('page.js')}</script>",
        *([f"<script>\n{_own_file('overlay.js')}</script>"] if lines is not None else []),
    ]


def _views_json(figure: Figure) -> str:
    return ", ".join(f"{json.dumps(view.key)}: {view.figure.to_json()}" for view in figure.views)


def _json_script(name: str, text: str) -> str:
    """Carry JSON in a page, with every character that could end the element written as an escape."""
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return f'<script type="application/json" id="{name}">{text}</script>'


def _own_file(name: str) -> str:
    return files("logger.show.pages").joinpath(name).read_text(encoding="utf-8")
