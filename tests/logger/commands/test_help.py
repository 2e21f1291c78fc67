"""Every command explains itself, with an example that works as it is written, and without delay."""

from __future__ import annotations

import inspect
import subprocess
import sys
from typing import Any

import pytest

from tests.logger.commands.command_tree import commands, misunderstood
from tests.logger.commands.program import ROOT, Evencup

ALL = {" ".join(("evencup", *words)): command for words, command in commands()}
LEAVES = {words: command for words, command in ALL.items() if not getattr(command, "commands", None)}


@pytest.mark.parametrize("words", ALL)
def test_every_command_has_a_sentence_of_help(words: str) -> None:
    text = inspect.cleandoc(ALL[words].help)
    assert text[0].isupper() and text.endswith(".")


@pytest.mark.parametrize("words", LEAVES)
def test_every_option_and_argument_has_help(words: str) -> None:
    for parameter in LEAVES[words].params:
        if parameter.name != "help":
            assert parameter.help, parameter.name


@pytest.mark.parametrize("words", LEAVES)
def test_every_command_has_an_example_that_it_would_understand(words: str) -> None:
    epilog: str = LEAVES[words].epilog
    assert epilog.startswith(f"Example: {words}")
    assert misunderstood(epilog.removeprefix("Example: ")) == []


def test_an_example_with_a_slip_is_found() -> None:
    assert misunderstood("evencup report brew --htm") == ["evencup report has no option --htm"]
    assert misunderstood("evencup rapport brew") == ["no command in: evencup rapport brew"]
    assert misunderstood("evencup export one two three.csv") != []
    assert misunderstood("evencup report brew --json   one line") == []


@pytest.mark.parametrize("words", ALL)
@pytest.mark.parametrize("option", ["-h", "--help"])
def test_help_is_printed(
    words: str, option: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from logger.commands.main import main

    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys, "argv", [*words.split(), option])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 0
    out = capsys.readouterr().out
    assert f"Usage: {words}" in out
    assert max(map(len, out.splitlines())) <= 80


HEAVY = {"numpy", "pandas", "plotly", "pyarrow", "bleak", "serial", "scipy", "asyncio", "rich.live"}


@pytest.mark.parametrize("arguments", [["--help"], ["record", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    code = (
        "import sys, contextlib, io\n"
        "from logger.commands.main import main\n"
        f"sys.argv = {['evencup', *arguments]!r}\n"
        "with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):\n"
        "    main()\n"
        f"print(sorted({HEAVY!r} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("words", ["evencup", "evencup target"])
def test_without_a_command_the_help_is_shown(evencup: Evencup, words: str) -> None:
    done = evencup.run(*words.split()[1:])
    assert done.code == 2
    assert "Usage: " + words in done.out + done.err


def _value_of(command: Any, name: str) -> Any:
    return next(parameter for parameter in command.params if name in parameter.opts)


def test_record_takes_the_options_that_are_documented() -> None:
    record = ALL["evencup record"]
    for name in ("--scale", "--thermometer"):
        assert _value_of(record, name).multiple
