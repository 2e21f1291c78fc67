"""The installed program, run as a brewer runs it: another process, its own data folder, text out."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[3]
TIMEOUT_S = 240.0
"""When something hangs: far longer than a busy computer takes."""


def command() -> list[str]:
    """Give the program that belongs to this Python, or the module where it is not installed."""
    beside = Path(sys.executable).with_name("evencup")
    return [str(beside)] if beside.exists() else [sys.executable, "-m", "logger.commands.main"]


def _text(data: bytes) -> str:
    return data.decode("utf-8", "surrogateescape")


@dataclass(frozen=True)
class Done:
    """A run that has ended."""

    code: int
    out: str
    err: str

    @property
    def lines(self) -> list[str]:
        return self.out.splitlines()

    @property
    def path(self) -> Path:
        """The path in the last line of the output."""
        return Path(self.lines[-1])


@dataclass
class Evencup:
    """The program with a data folder and a working folder of its own."""

    here: Path
    env: dict[str, str] = field(default_factory=dict)

    @property
    def data(self) -> Path:
        return self.here / "data"

    def environment(self, **more: str) -> dict[str, str]:
        """Give what the program sees: no colours asked for, eighty columns, UTF-8."""
        kept = {
            name: os.environ[name] for name in ("PATH", "HOME", "LANG", "SYSTEMROOT") if name in os.environ
        }
        fixed = {
            "EVENCUP_DATA": str(self.data),
            "EVENCUP_CONFIG": str(self.here / "config"),
            "EVENCUP_CACHE": str(self.here / "cache"),
            "COLUMNS": "80",
            "PYTHONIOENCODING": "utf-8",
        }
        checkout = {"PYTHONPATH": str(ROOT)}  # for the module; an installed program has no need of it
        return {**kept, **fixed, **checkout, **self.env, **more}

    def run(self, *args: str | Path, **env: str) -> Done:
        """Run to the end."""
        done = subprocess.run(
            [*command(), *map(str, args)],
            cwd=self.here,
            env=self.environment(**env),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=TIMEOUT_S,
        )
        return Done(done.returncode, _text(done.stdout), _text(done.stderr))

    def ok(self, *args: str | Path, **env: str) -> Done:
        """Run to an end that must be a good one."""
        done = self.run(*args, **env)
        assert done.code == 0, done.err
        assert "Traceback" not in done.err
        return done

    def start(self, *args: str | Path) -> Running:
        """Start, and go on."""
        process = subprocess.Popen(
            [*command(), *map(str, args)],
            cwd=self.here,
            env=self.environment(),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        return Running(process)


@dataclass
class Running:
    """A run that has not ended yet."""

    process: subprocess.Popen[bytes]
    _done: Done | None = None

    def done(self) -> Done:
        """Wait for its end."""
        if self._done is None:
            out, err = self.process.communicate(timeout=TIMEOUT_S)
            self._done = Done(self.process.returncode, _text(out), _text(err))
        return self._done

    def stop(self) -> None:
        """End it, whatever it is doing."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate()
