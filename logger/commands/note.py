"""``evencup note``: what is learnt of a brew after its recording was closed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from logger.commands.options import open_recording

if TYPE_CHECKING:
    from rich.console import Console

    from logger.recording import Recording

EXAMPLE = (
    "Example: evencup note 2026-11-25-0730-three-pours --strength 1.35 --beverage 238.0 --mark dry=2:58 "
    "--tasted 'acidity=9 body=6 flavour=plum, dried fig' --by AB"
)

Several = list[str] | None


def note(
    recording: Annotated[str, typer.Argument(metavar="RECORDING", help="A folder, or a name.")],
    strength: Annotated[
        Several,
        typer.Option("--strength", metavar="%", help="What a refractometer showed; again for each reading."),
    ] = None,
    brix: Annotated[
        Several, typer.Option("--brix", metavar="BX", help="The same, of an instrument that shows °Bx.")
    ] = None,
    brix_coefficient: Annotated[
        float | None,
        typer.Option(
            "--brix-coefficient", metavar="K", help="% of solids for each °Bx; else your settings'."
        ),
    ] = None,
    uncorrected: Annotated[
        bool,
        typer.Option("--uncorrected", help="The instrument does not correct for temperature by itself."),
    ] = False,
    sample_c: Annotated[
        float | None,
        typer.Option("--sample", metavar="C", help="The sample's temperature, °C.", min=0, max=100),
    ] = None,
    zero_c: Annotated[
        float | None,
        typer.Option(
            "--zero", metavar="C", help="Of the water on which it was zeroed, °C; else 20.", min=0, max=100
        ),
    ] = None,
    beverage: Annotated[
        str, typer.Option("--beverage", metavar="G", help="What was in the cup, g, as the scale showed it.")
    ] = "",
    dose: Annotated[
        str, typer.Option("--dose", metavar="G", help="Dry coffee, g, where the recording has it wrong.")
    ] = "",
    mark: Annotated[
        Several,
        typer.Option(
            "--mark", metavar="NAME=M:SS", help="A moment of the brew: dry, served, pump, or your own."
        ),
    ] = None,
    called: Annotated[
        Several, typer.Option("--called", metavar="TASTE", help="How it is called to taste, before.")
    ] = None,
    tasted: Annotated[
        Several, typer.Option("--tasted", metavar="TASTE", help="How it tasted, after, on 0 to 15.")
    ] = None,
    taster: Annotated[
        str, typer.Option("--by", metavar="LABEL", help="Who called or tasted: initials, or any label.")
    ] = "",
    text: Annotated[Several, typer.Option("--text", metavar="WORDS", help="Anything worth noting.")] = None,
    withdraw: Annotated[
        Several,
        typer.Option("--withdraw", metavar="WHAT", help="Take back what was noted, as strength or mark:dry."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON.")] = False,
) -> None:
    """Note what is learnt of a brew afterwards, or show what is noted.

    The recording itself never changes: notes stand in a file beside it, each with its date. A later one
    takes the place of an earlier one, and the earlier one stays in the file. A taste is written as
    acidity=9 sweetness=8 bitterness=3 body=6 finish=7 liking=10 (0 not there, 15 as strong as it
    gets) aroma=cedar flavour=plum, dried fig.
    """
    from datetime import UTC, datetime

    from rich.console import Console

    from logger.commands.noting import Typed, check_marks, notes_typed
    from logger.cup.settings import read_settings
    from logger.recording.notes import append_notes

    opened = open_recording(recording)
    typed = Typed(
        strength=strength or (),
        brix=brix or (),
        brix_coefficient=brix_coefficient,
        corrected=False if uncorrected else None,
        sample_c=sample_c,
        zero_c=zero_c,
        beverage=beverage,
        dose=dose,
        marks=mark or (),
        called=called or (),
        tasted=tasted or (),
        taster=taster,
        texts=text or (),
        withdrawn=withdraw or (),
    )
    notes = notes_typed(typed, read_settings(), opened.noted)
    check_marks(opened, notes)
    if notes:
        append_notes(opened.path, notes, datetime.now(UTC))
        opened = open_recording(str(opened.path))
    _show(opened, Console(), json=json)


def _show(recording: Recording, console: Console, *, json: bool) -> None:
    """Show what is noted, and the cup that follows from it."""
    import json as json_format

    from logger.compare import assess
    from logger.compare.cups import cup_of
    from logger.show.plain_data.cup_json import cup_json
    from logger.show.terminal.text import ALARM, is_plain, print_words, words_table
    from logger.show.words.cup_words import balance_sentences, noted_rows

    noted = recording.noted
    # The curve need not be read for a taste alone.
    has_balance = noted.strength is not None or noted.beverage is not None
    one = cup_of(assess(recording)) if json or has_balance else None
    if json and one is not None:
        given = {"recording": recording.name, "problems": list(noted.problems), **cup_json(one)}
        typer.echo(json_format.dumps(given, allow_nan=False))
        return
    print_words(console, recording.name, "bold")
    for problem in noted.problems:
        print_words(console, f"! {problem}", ALARM)
    rows = noted_rows(noted)
    if not rows:
        print_words(console, "Nothing is noted of this brew yet. To note something: evencup note --help")
        return
    console.print(words_table(("noted", "", "on (UTC)"), rows, is_plain(console), cut=()))
    sentences = balance_sentences(one.cup) if one is not None else []
    if sentences:
        console.print()
    for words in sentences:
        print_words(console, words)
