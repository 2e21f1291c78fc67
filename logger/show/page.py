"""The shell of every page: one self-contained file that needs no network, ever."""

from __future__ import annotations

import json
from html import escape
from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING, Any

from logger.show.axes import TICK_STEPS_S
from logger.show.palette import DARK, LIGHT, css_variables, dark_for_light

if TYPE_CHECKING:
    import plotly.graph_objects as go

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

FIGURE_PLACE = (
    '<div id="figure" role="img" aria-label="$label"><noscript>The figure needs JavaScript.</noscript></div>'
)


def figure_place(label: str) -> str:
    """Say where the page's figure goes, with a label for those who cannot see it."""
    return Template(FIGURE_PLACE).substitute(label=escape(label))


def page(title: str, body_html: str, figure: go.Figure | None, data: Any) -> str:
    """Put a page together.

    :param body_html: escaped, with :func:`figure_place` in it where there is a figure
    :param data: what the page shows, for programs that read it; strict JSON
    """
    scripts = [_json_script("evencup-data", json.dumps(data, ensure_ascii=False, allow_nan=False))]
    if figure is not None:
        scripts += _figure_scripts(figure)
    return _SHELL.substitute(
        title=escape(title),
        light=css_variables(LIGHT),
        dark=css_variables(DARK),
        style=_own_file("page.css"),
        body=body_html,
        scripts="\n".join(scripts),
    )


def _figure_scripts(figure: go.Figure) -> list[str]:
    from plotly.offline import get_plotlyjs

    looks = json.dumps({"dark_for_light": dark_for_light(), "tick_steps_s": TICK_STEPS_S})
    return [
        _json_script("figure-data", figure.to_json()),
        _json_script("figure-looks", looks),
        f"<script>{get_plotlyjs()}</script>",
        f"<script>\n{_own_file('page.js')}</script>",
    ]


def _json_script(name: str, text: str) -> str:
    """Carry JSON in a page, with every character that could end the element written as an escape."""
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return f'<script type="application/json" id="{name}">{text}</script>'


def _own_file(name: str) -> str:
    return files("logger.show").joinpath(name).read_text(encoding="utf-8")
