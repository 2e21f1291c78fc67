"""Options that several commands share, and how what they name is found."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from logger.curve import Method
    from logger.recording import Recording
    from logger.target import Target

Into = Annotated[
    Path | None,
    typer.Option("--into", metavar="DIR", help="Where recordings live; without it, your data folder."),
]
TargetOption = Annotated[
    Path | None,
    typer.Option(
        "--target", metavar="TARGET", help="Hold against this target, not the one that was recorded."
    ),
]
MethodOption = Annotated[
    str | None,
    typer.Option(
        "--method", metavar="METHOD", help="pour-over, espresso or immersion; found out without it."
    ),
]
Coffee = Annotated[str, typer.Option("--coffee", help="Which coffee, in your own words.")]
Dose = Annotated[
    float | None, typer.Option("--dose", metavar="G", help="Dry coffee, g.", min=0.1, max=1000.0)
]
Grind = Annotated[str, typer.Option("--grind", help="Which grind setting, in your own words.")]
Notes = Annotated[str, typer.Option("--notes", help="Anything worth remembering.")]
To = Annotated[
    Path | None,
    typer.Option("--to", metavar="PATH", help="Where the page goes: a file or a folder; here without it."),
]


Figures = Annotated[
    Path | None,
    typer.Option("--figures", metavar="DIR", help="Write the figures there as PNG and SVG; needs a browser."),
]

Altitude = Annotated[
    float | None,
    typer.Option("--altitude", metavar="M", help="The venue above the sea, m; else your settings'."),
]


def folder_for(into: Path | None) -> Path:
    """The folder that was named, or the user's own; it need not exist yet.

    :raises BadInputError: when a file has its name
    """
    from logger.errors import BadInputError
    from logger.recording import data_folder

    folder = into if into is not None else data_folder()
    if folder.exists() and not folder.is_dir():
        raise BadInputError(str(folder), "is a file, and recordings go into a folder", "Name a folder.")
    return folder


def open_recording(name: str, *, salvage: bool = False) -> Recording:
    """Open a recording by its path, or by its name in the user's data folder.

    :raises BadInputError: when there is none, or it is damaged
    """
    from logger.recording import Recording

    return Recording.open(recording_path(name), salvage=salvage)


def recording_path(name: str) -> Path:
    """Where a recording is: its path, or its name in the user's data folder; it need not be there."""
    from logger.recording import data_folder

    path = Path(name)
    if not path.exists() and len(path.parts) == 1 and (data_folder() / name).exists():
        return data_folder() / name
    return path


def known_method(text: str | None) -> Method | None:
    """Check a method that was typed.

    :raises BadInputError: naming the known ones
    """
    from logger.curve import METHODS
    from logger.errors import BadInputError

    for method in METHODS:
        if text == method:
            return method
    if text is None:
        return None
    raise BadInputError("--method", f"{text!r} is not known", f"Choose one of: {', '.join(METHODS)}.")


def read_target_if(path: Path | None) -> Target | None:
    """Read the target that was named, if any."""
    from logger.target import read_target

    return read_target(path) if path is not None else None


def page_path(to: Path | None, name: str) -> Path:
    """Where a page goes: the file that was named, or a file of that name in the folder, or here.

    :raises BadInputError: when a file that was named is there and is no page
    """
    from logger.errors import BadInputError

    path = Path(f"{name}.html") if to is None else to / f"{name}.html" if to.is_dir() else to
    if path.suffix.lower() not in (".html", ".htm"):
        raise BadInputError(
            str(path), "is not a name for a page", "Let it end in .html, or name a folder that is there."
        )
    if not path.parent.is_dir():
        raise BadInputError(str(path.parent), "is no folder", "Make it first, or choose another.")
    return path


def write_page(path: Path, html: str) -> None:
    """Write a page whole or not at all.

    :raises FailureError: when the disk refuses
    """
    from logger.recording.disk import replacing

    with replacing(path) as part:
        # A folder's name may hold bytes that are no text; a page shows a question mark there.
        part.write_text(html, encoding="utf-8", errors="replace", newline="\n")


def boils_at_venue_c(altitude_m: float | None) -> float | None:
    """At which temperature water boils at the venue: as high as was typed, else as the settings say; None:
    unknown.

    :raises BadInputError: when the settings have mistakes, or nobody brews at such an altitude
    """
    from logger.cup.boiling import boiling_point_c
    from logger.cup.settings import read_settings
    from logger.errors import BadInputError

    if altitude_m is None:
        return read_settings().boils_c
    try:
        return boiling_point_c(altitude_m)
    except ValueError as error:
        raise BadInputError("--altitude", str(error), "Write the venue's, as --altitude 1500.") from None
