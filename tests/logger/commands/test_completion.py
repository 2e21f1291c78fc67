"""Completion in the shell, by the protocol that the shell's script speaks."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from tests.logger.commands.program import Evencup, command

BASH = shutil.which("bash")


def offered(evencup: Evencup, line: str) -> set[str]:
    words = line.split(" ")
    done = evencup.ok(_EVENCUP_COMPLETE="complete_bash", COMP_WORDS=line, COMP_CWORD=str(len(words) - 1))
    return set(done.out.split())


@pytest.mark.parametrize(
    ("line", "offers"),
    [
        ("evencup rep", {"replay", "report"}),
        ("evencup target ", {"check", "scale", "draw", "learn"}),
        ("evencup target le", {"learn"}),
        ("evencup export --wi", {"--wide"}),
        ("evencup record --sc", {"--scale"}),
    ],
)
def test_what_is_offered(evencup: Evencup, line: str, offers: set[str]) -> None:
    assert offered(evencup, line) == offers


@pytest.mark.skipif(BASH is None, reason="there is no bash here")
def test_the_script_for_bash(evencup: Evencup) -> None:
    """Bash itself loads the script and asks it, as on pressing Tab."""
    script = evencup.ok("--show-completion", "bash", _TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION="1").out
    assert "complete -o default -F _evencup_completion evencup" in script
    ask = "COMP_WORDS=(evencup rep); COMP_CWORD=1; COMP_LINE='evencup rep'; COMP_POINT=11"
    call = f'evencup() {{ {" ".join(command())} "$@"; }}; _evencup_completion "{command()[0]}"'
    done = subprocess.run(
        ["bash", "-c", f"{script}\n{ask}\n{call}\nprintf '%s\\n' \"${{COMPREPLY[@]}}\""],
        env=evencup.environment(),
        capture_output=True,
        text=True,
        timeout=30,
    )
    assert done.returncode == 0, done.stderr
    assert set(done.stdout.split()) == {"replay", "report"}
