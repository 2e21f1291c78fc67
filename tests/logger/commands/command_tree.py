"""The commands of the program, and whether a command line that somebody wrote down would be understood."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from typing import Any

import typer

from logger.commands.main import app

ROOT: Any = typer.main.get_command(app)
_PLACEHOLDER = re.compile(r"^\[.*\]$|^\.\.\.$")


def commands(command: Any = ROOT, words: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Every command with its words; groups and the program itself too."""
    yield words, command
    for name, child in getattr(command, "commands", {}).items():
        yield from commands(child, (*words, name))


def options(command: Any) -> dict[str, bool]:
    """Every option that a command takes, and whether a value follows it."""
    names = {
        name: not parameter.is_flag
        for parameter in command.params
        for name in (*parameter.opts, *parameter.secondary_opts)
        if name.startswith("-")
    }
    return {**names, "-h": False, "--help": False}


def misunderstood(line: str) -> list[str]:
    """What of ``evencup ...``, as it stands in a text, the program would not understand.

    What comes after two blanks is taken for a remark, as after ``#``.
    """
    words = shlex.split(re.split(r"\s{2,}|\s#", line.strip())[0])
    assert words[0] == "evencup", line
    command, wrong, arguments, position = ROOT, [], 0, 1
    while position < len(words) and words[position] in getattr(command, "commands", {}):
        command = command.commands[words[position]]
        position += 1
    while position < len(words):
        word = words[position]
        position += 1
        if word.startswith("-"):
            name, equals, _ = word.partition("=")
            if name not in options(command):
                wrong.append(f"{' '.join(words[:2])} has no option {name}")
            elif options(command)[name] and not equals:
                position += 1
                if position > len(words):
                    wrong.append(f"nothing follows {name}")
        elif not _PLACEHOLDER.match(word):
            arguments += 1
    return wrong + _wrong_arguments(command, arguments, line)


def _wrong_arguments(command: Any, given: int, line: str) -> list[str]:
    if getattr(command, "commands", None):
        return [f"no command in: {line}"] if given else []
    taken = [parameter for parameter in command.params if parameter.param_type_name == "argument"]
    most = float("inf") if any(parameter.nargs == -1 for parameter in taken) else len(taken)
    return [f"{given} arguments where at most {most} are taken: {line}"] if given > most else []
