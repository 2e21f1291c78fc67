"""A figure as a page takes it: its views, its words, and what names it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import plotly.graph_objects as go


@dataclass(frozen=True, slots=True)
class View:
    """One way to see a figure.

    :param key: names it in the page's addresses of views and in file names: lower-case letters, digits, ``-``
    :param label: what the reader chooses by
    :param figure: in the colours of the light theme
    """

    key: str
    label: str
    figure: go.Figure


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of a page, in one or several views.

    :param key: as in :class:`View`; the page's own for each figure
    :param label: what it shows, for those who cannot see it
    :param caption: one sentence: what to see, of how many, in which unit, how sure
    :param views: at least one; the first is shown first
    """

    key: str
    label: str
    caption: str
    views: tuple[View, ...]
