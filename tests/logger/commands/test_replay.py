"""A recording replayed on a page, by the installed program; where it begins, and what it refuses."""

from __future__ import annotations

import http.client
import json
import re
import subprocess
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.logger.commands.program import Evencup, command


def _seen(evencup: Evencup, *arguments: str | Path) -> list[dict[str, Any]]:
    """Replay with a page, look at it to its end, and give every state that was shown."""
    process = subprocess.Popen(
        [*command(), "replay", *map(str, arguments), "--page"],
        cwd=evencup.here,
        env=evencup.environment(PYTHONUNBUFFERED="1", EVENCUP_RUNTIME=str(evencup.here / "run")),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    found = re.search(r"http://\S+", process.stdout.readline())
    assert found
    url = urlsplit(found[0])
    assert url.hostname
    link = http.client.HTTPConnection(url.hostname, url.port, timeout=30.0)
    link.request("GET", f"{url.path}stream")
    state: dict[str, Any] = {}
    states = []
    for line in link.getresponse():
        if line.startswith(b"data: {") and b'"set"' in line:
            state = state | json.loads(line[6:])["set"]
            states.append(state)
    link.close()
    _, err = process.communicate(timeout=30.0)
    assert process.returncode == 0
    assert err == ""
    return [each for each in states if "phase" in each]


def test_the_page_shows_a_replay_as_it_shows_a_brew(evencup: Evencup, brewed: Path) -> None:
    states = _seen(evencup, brewed, "--speed", "64", "--from", "1:10")
    assert 60.0 < states[0]["clock_s"] < 80.0
    assert states[0]["title"] == "Three pours"
    assert {state["phase"] for state in states} >= {"pouring", "drawdown", "done"}
    assert states[-1]["verdict"]["text"]
    assert not any("replay" in json.dumps(state) for state in states)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--loop", "9"), "--loop 9: the recording has 3 pours. Choose one of them."),
        (("--from", "soon"), "--from soon: is no time. Write minutes and seconds, as 1:30."),
        (("--page-key", "key.pem"), "--page-key: has no certificate. Give it with --page-cert."),
        (("--page-cert", "none.pem"), "none.pem: cannot be used for https"),
        (("--page-host", "192.0.2.7"), "--page-host 192.0.2.7: is no address of this machine."),
    ],
)
def test_what_cannot_be_done_is_told(
    evencup: Evencup, brewed: Path, arguments: tuple[str, ...], words: str
) -> None:
    done = evencup.run("replay", brewed, "--speed", "max", *arguments)
    assert done.code == 2
    assert words in done.err
    assert "Traceback" not in done.err
