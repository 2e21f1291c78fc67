"""What a brewer can get wrong: code 2, one message with what, where and what to do, nothing left behind."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from logger.commands.main import main
from tests.logger.commands.program import ROOT, TIMEOUT_S, Evencup
from tests.logger.commands.targets import THREE_POURS

MISSPELT = THREE_POURS.replace("to_g     = 45.0", "tog      = 45.0")
IMPOSSIBLE = THREE_POURS.replace("to_g  = 240", "to_g  = 120")  # less than the pour before
NO_WEIGHT = "Time,Pressure\n0.0,1.2\n0.1,1.3\n0.2,1.4\n"
BACKWARDS = "time_s,weight_g\n0.0,0.0\n0.1,0.2\n0.2,0.4\n0.1,0.6\n0.3,0.8\n"


def _before(evencup: Evencup) -> None:
    files = {
        "good.toml": THREE_POURS,
        "misspelt.toml": MISSPELT,
        "impossible.toml": IMPOSSIBLE,
        "no_weight.csv": NO_WEIGHT,
        "backwards.csv": BACKWARDS,
        "empty.csv": "",
        "there.csv": "kept as it is\n",
        "a_file": "",
    }
    for name, text in files.items():
        (evencup.here / name).write_text(text, encoding="utf-8")


def _tree(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b""
        for path in sorted(folder.rglob("*"))
    }


CASES: dict[str, tuple[str, list[str]]] = {
    # name: the command line, and what the message must hold (what, where, what to do)
    "no such device": (
        "record --scale serial:/dev/ttyUSB77",
        ["serial:/dev/ttyUSB77", "there is no port", "Connected are:|No serial port"],
    ),
    "two devices, both told": (
        "record --scale serial:/dev/ttyUSB77 --thermometer kettle=serial:/dev/ttyUSB78?pattern=temperature",
        ["2 of 2 devices could not be opened", "/dev/ttyUSB77", "/dev/ttyUSB78"],
    ),
    "no port at all": (
        "record --scale serial:good.toml",
        ["good.toml is no serial port", "Connected|No serial"],
    ),
    "unknown scheme": (
        "record --scale telepathy:cup",
        ["no driver knows 'telepathy:'", "Known are: serial:, "],
    ),
    "no address": (
        "record --scale scale",
        ["neither an address nor a device of yours", "none yet"],
    ),
    "unknown option of an address": (
        "record --scale serial:/dev/ttyUSB0?boud=9600",
        ["unknown option 'boud'", "Known options are: baud"],
    ),
    "pattern with a slip": (
        "record --scale serial:/dev/ttyUSB0?pattern=wieght",
        ["'wieght' is wrong at character 1", "A pattern looks like"],
    ),
    "no scale": ("record", ["no scale was named", "Say --scale ADDRESS; evencup devices"]),
    "a thermometer alone": ("record --thermometer serial:/dev/ttyUSB0", ["no scale was named", "--scale"]),
    "channel name": (
        "record --scale c*p=serial:/dev/ttyUSB0",
        ["c*p=serial:/dev/ttyUSB0", "'c*p' cannot be a channel's name", "Use letters, digits, - and _"],
    ),
    "one name twice": (
        "record --scale cup=serial:/dev/ttyUSB0 --thermometer cup=serial:/dev/ttyUSB1?pattern=temperature",
        ["--thermometer cup=serial:/dev/ttyUSB1", "'cup' is taken already", "Choose another name."],
    ),
    "no time": ("record --scale simulated:good.toml --for 0", ["--for"]),
    "target not there": ("record nowhere.toml --scale simulated:good.toml", ["nowhere.toml"]),
    "target with a typo": (
        "record misspelt.toml --scale simulated:good.toml",
        ["misspelt.toml", "line 10, stage 1, tog: there is no such field", "Did you mean to_g?"],
    ),
    "target that cannot be": (
        "record impossible.toml --scale simulated:good.toml",
        ["impossible.toml, line", "to_g", "140"],
    ),
    "simulated from no target": (
        "record --scale simulated:no_weight.csv",
        ["simulated:no_weight.csv", "this is no TOML", "Mend the target file"],
    ),
    "into a file": (
        "record --scale simulated:good.toml?speed=max --into a_file",
        ["a_file: is a file", "Name a folder."],
    ),
    "unknown level": (
        "simulate good.toml --level brutal",
        ["level=brutal is not known", "clean, easy, hard, medium"],
    ),
    "unknown level of a scale": (
        "record --scale simulated:good.toml?level=brutal",
        ["level=brutal is not known", "clean, easy, hard, medium"],
    ),
    "simulated into a file": ("simulate good.toml --into a_file", ["a_file: is a file", "Name a folder."]),
    "simulated from nothing": ("simulate nowhere.toml", ["nowhere.toml"]),
    "unknown speed": ("replay REC --speed fast", ["speed=fast is not a number from 0.01 to 1000"]),
    "replayed what is not there": ("replay nowhere", ["nowhere: there is no such folder", "evencup list"]),
    "report of what is not there": ("report nowhere", ["nowhere: there is no such folder", "evencup list"]),
    "report of a file": ("report good.toml", ["is a file, and a recording is a folder", "evencup import"]),
    "report of many in one": (
        "report data",
        ["holds recordings but is none", "Name one of the folders in it."],
    ),
    "damaged readings": (
        "report DAMAGED",
        ["readings.csv, line 6", "value 'heavy' is not a number", "evencup export --salvage"],
    ),
    "damaged descriptor": ("report TORN", ["datapackage.json", "evencup export --salvage|line"]),
    "unknown method": (
        "report REC --method siphon",
        ["--method: 'siphon' is not known", "Choose one of: pour-over, espresso, immersion."],
    ),
    "page that is no page": (
        "report REC --html --to page.pdf",
        ["page.pdf: is not a name for a page", ".html"],
    ),
    "many pages in one file": (
        "report REC REC --html --to one.html",
        ["one.html: is no folder, and the pages of 2 recordings need one", "Name a folder that is there."],
    ),
    "page nowhere": ("report REC --html --to nowhere/page.html", ["nowhere: is no folder", "Make it first"]),
    "export over a file": (
        "export REC there.csv",
        ["there.csv: exists already", "Choose another name, or say --force."],
    ),
    "export to an unknown format": (
        "export REC brew.xlsx",
        ["brew.xlsx", "no format ends in '.xlsx'", ".csv, .parquet"],
    ),
    "import without weights": ("import no_weight.csv", ["no_weight.csv", "weight", "--weight-column"]),
    "import with time running back": ("import backwards.csv", ["backwards.csv, line 5", "back"]),
    "import of nothing": ("import empty.csv", ["empty.csv", "empty"]),
    "import of what is not there": ("import nowhere.csv", ["nowhere.csv"]),
    "import in stones": ("import backwards.csv --unit stone", ["stone", "g, kg"]),
    "import into a file": ("import backwards.csv --into a_file", ["a_file: is a file", "Name a folder."]),
    "list of nowhere": ("list --into nowhere", ["nowhere"]),
    "overlay of a typo": (
        "overlay misspelt.toml REC",
        ["misspelt.toml", "line 10, stage 1, tog", "Did you mean to_g?"],
    ),
    "check of a typo": (
        "target check misspelt.toml",
        ["misspelt.toml, line 10, stage 1, tog", "Did you mean to_g?"],
    ),
    "check of an impossible plan": ("target check impossible.toml", ["impossible.toml, line", "140"]),
    "scaled to nothing": ("target scale good.toml 0", ["dose|0"]),
    "scaled over a file": (
        "target scale good.toml 18 --to there.csv",
        ["there.csv: exists already", "--force"],
    ),
    "drawn from nothing": ("target draw nowhere.toml", ["nowhere.toml"]),
    "learnt without a dose": (
        "target learn NODOSE",
        ["does not say how much coffee was used", "Say --dose 15."],
    ),
    "demo into a file": ("demo --into a_file", ["a_file: is a file", "Name a folder."]),
    "unknown command": ("brew", ["No such command 'brew'"]),
    "unknown option": ("report REC --pdf", ["No such option"]),
}


@pytest.fixture(scope="module")
def kitchen(tmp_path_factory: pytest.TempPathFactory) -> Evencup:
    """Good and bad files, and a good, a damaged, a torn and a bare recording."""
    evencup = Evencup(tmp_path_factory.mktemp("kitchen"))
    _before(evencup)
    good = evencup.ok("simulate", "good.toml", "--level", "clean").path
    good.rename(good.with_name("REC"))
    for name in ("DAMAGED", "TORN", "NODOSE"):
        folder = evencup.data / name
        folder.mkdir()
        for file in (evencup.data / "REC").iterdir():
            (folder / file.name).write_bytes(file.read_bytes())
    lines = (evencup.data / "DAMAGED" / "readings.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    lines[5] = "0.5,scale,heavy,g,stable,\n"
    (evencup.data / "DAMAGED" / "readings.csv").write_text("".join(lines), encoding="utf-8")
    (evencup.data / "TORN" / "datapackage.json").write_text('{"name": "torn', encoding="utf-8")
    (evencup.data / "NODOSE" / "datapackage.json").unlink()
    return evencup


@pytest.mark.parametrize("case", CASES)
def test_bad_input(
    kitchen: Evencup, case: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In this process, by the same entry point: fifty starts of Python would take their time."""
    line, told = CASES[case]
    before = _tree(kitchen.here)
    monkeypatch.chdir(kitchen.here)
    monkeypatch.setenv("EVENCUP_DATA", str(kitchen.data))
    monkeypatch.setenv("EVENCUP_CONFIG", str(kitchen.here / "config"))
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setattr(sys, "argv", ["evencup", *line.split()])
    with pytest.raises(SystemExit) as ended:
        main()
    _, err = capsys.readouterr()
    assert ended.value.code == 2, err
    for words in told:
        assert any(choice in err for choice in words.split("|")), (words, err)
    assert _tree(kitchen.here) == before


@pytest.mark.parametrize("line", ["report DAMAGED", "record --scale telepathy:cup", "import empty.csv"])
def test_bad_input_of_the_installed_program(kitchen: Evencup, line: str) -> None:
    done = kitchen.run(*line.split())
    assert done.code == 2
    assert done.out == ""
    assert done.err.startswith("evencup: ") and "Traceback" not in done.err


def test_the_others_are_reported_beside_a_damaged_one(kitchen: Evencup) -> None:
    done = kitchen.run("report", "TORN", "DAMAGED", "REC", "nowhere", "--json")
    assert done.code == 2
    assert [json.loads(line)["recording"] for line in done.lines] == ["REC"]
    problems = [line for line in done.err.splitlines() if line.startswith("evencup: ")]
    assert len(problems) == 3
    for problem, words in zip(problems, ("datapackage.json", "readings.csv, line 6", "nowhere"), strict=True):
        assert words in problem


def test_nothing_is_written_where_nothing_may_be_written(kitchen: Evencup) -> None:
    """A folder that refuses is no slip in what was typed: code 1."""
    before = _tree(kitchen.here)
    done = kitchen.run("simulate", "good.toml", "--into", "/proc/brews")
    assert done.code == 1
    assert "/proc/brews: could not make a folder for the recording" in done.err
    assert "Traceback" not in done.err
    assert _tree(kitchen.here) == before


AS_SOMEBODY_ELSE = """\
import contextlib, grp, os, pwd, sys
from logger.commands.main import main
with contextlib.suppress(SystemExit), open(os.devnull, "w") as nowhere, contextlib.redirect_stderr(nowhere):
    sys.argv = ["evencup", "record", "--scale", "serial:/dev/nowhere"]
    main()
import logger.compare.brew, logger.recording.store
import logger.show.pages.report_page, logger.show.terminal.summary
# nobody may not read the Python that root uses
os.setgroups([]), os.setgid(65534), os.setuid(65534)
sys.argv = ["evencup", *os.environ["ARGUMENTS"].split()]
main()
"""

only_root = pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can become somebody else"
)


def _as_somebody_else(tmp_path: Path, line: str, data: Path) -> subprocess.CompletedProcess[str]:
    """Run as nobody: root may open and read everything."""
    return subprocess.run(
        [sys.executable, "-c", AS_SOMEBODY_ELSE],
        cwd=ROOT,
        env=Evencup(tmp_path).environment(ARGUMENTS=line, EVENCUP_DATA=str(data)),
        capture_output=True,
        text=True,
        timeout=TIMEOUT_S,
    )


@only_root
def test_a_port_of_somebody_else(tmp_path: Path) -> None:
    mother, child = pty.openpty()
    try:
        port = os.ttyname(child)
        Path(port).chmod(0o600)
        done = _as_somebody_else(tmp_path, f"record --scale serial:{port}", Path("/tmp/evencup-nowhere"))
    finally:
        os.close(mother)
        os.close(child)
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert f"serial:{port}: this user may not open {port}" in done.stderr
    assert "sudo" in done.stderr
    assert not Path("/tmp/evencup-nowhere").exists()


@only_root
@pytest.mark.parametrize(
    "line", ["list --into HERE/practice", "report HERE/practice/brew", "record --scale simulated:x"]
)
def test_a_folder_of_somebody_else(tmp_path: Path, line: str) -> None:
    (tmp_path / "practice").mkdir()
    tmp_path.chmod(0o700)
    done = _as_somebody_else(tmp_path, line.replace("HERE", str(tmp_path)), tmp_path / "practice")
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert f"evencup: {tmp_path}" in done.stderr and "Permission denied" in done.stderr
