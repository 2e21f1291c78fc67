"""What is connected, watched, tested and described, by the installed program."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.logger.commands.program import ROOT, Evencup
from tests.peers.bluez import SCALE, WEIGHT, Bluez, uuid, weights

pytestmark = pytest.mark.long

RADIO = "C0:FF:EE:00:00:07"
SERVICE, PACKETS = uuid("fff0"), uuid("fff1")

RADIO_SCALE = f"""
name = "radio scale"
kind = "ble"

[ble]
service = "{SERVICE}"
notify  = ["{PACKETS}"]

[[frame]]
header = [0xA5]
length = 5

[frame.checksum]
kind = "xor8"
at   = 4

[[frame.field]]
holds  = "weight"
offset = 1
width  = 3
order  = "big"
signed = "twos-complement"
scale  = 0.1
unit   = "g"
"""


@pytest.fixture
def own(evencup: Evencup) -> Evencup:
    evencup.env["EVENCUP_CONFIG"] = str(evencup.here / "config")
    return evencup


@pytest.fixture
def balance(own: Evencup) -> Iterator[str]:
    """A balance on a pty, in another process; loads come and go every five seconds."""
    loads = own.here / "loads.txt"
    steps = [0.0, 100.0, 0.0, 200.0, 0.0, 100.0, 0.0, 200.0, 0.0]
    lines, level = [], 0.0
    for load in steps:
        for _ in range(50):
            level += (load - level) * 0.3
            lines.append(f"{level:.1f}")
    loads.write_text("\n".join(lines), encoding="utf-8")
    program = ROOT / "tests" / "peers" / "balance.py"
    peer = subprocess.Popen(
        [sys.executable, str(program), "--rate", "10", "--weights-from", str(loads)],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert peer.stdout is not None
    try:
        yield peer.stdout.readline().strip()
    finally:
        peer.kill()
        peer.wait()
        peer.stdout.close()


def test_the_list_says_where_and_how(own: Evencup) -> None:
    done = own.ok("devices", "--bluetooth", "0")
    assert "simulated:TARGET" in done.out


def test_no_bluetooth_service_is_said_with_what_to_do(own: Evencup) -> None:
    bus = f"unix:path={own.here}/no-bus"
    done = own.ok("devices", "--bluetooth", "0.5", DBUS_SYSTEM_BUS_ADDRESS=bus)
    assert "Bluetooth" in done.out
    assert "Traceback" not in done.err


def test_devices_of_ones_own_come_first(own: Evencup) -> None:
    config = own.here / "config"
    config.mkdir()
    (config / "devices.toml").write_text(
        '[bench]\naddress = "serial:/dev/ttyUSB0"\nresponse_s = 0.31\nstep_g = 0.1\ntested = 2026-11-25\n'
    )
    done = own.ok("devices", "--bluetooth", "0")
    assert done.lines[2].split()[:2] == ["bench", "serial:/dev/ttyUSB0"]
    assert "response 0.31 s" in done.out
    (line,) = [json.loads(each) for each in own.ok("devices", "--bluetooth", "0", "--json").lines][:1]
    assert (line["kind"], line["name"], line["response_s"]) == ("named", "bench", 0.31)


def test_a_name_that_is_none_is_answered_with_the_known_ones(own: Evencup) -> None:
    done = own.run("record", "--scale", "bensh")
    assert done.code == 2
    assert "neither an address nor a device of yours" in done.err


def test_watching_shows_value_rate_and_jitter(own: Evencup, balance: str) -> None:
    done = own.ok("devices", "watch", f"serial:{balance}", "--for", "3")
    row = next(line for line in done.lines if line.strip().startswith("scale"))
    assert "0.00 g" in row
    assert 9.0 < float(row.split("/s")[0].split()[-1]) < 11.0


def test_watching_what_is_not_there_is_bad_input(own: Evencup) -> None:
    done = own.run("devices", "watch", "serial:/dev/there-is-none")
    assert done.code == 2
    assert "there-is-none" in done.err


def test_a_scale_is_examined_and_kept_by_name(own: Evencup, balance: str) -> None:
    address = f"serial:{balance}"
    masses = ["--mass", "100", "--mass", "200", "--rounds", "2"]
    done = own.ok("devices", "test", address, *masses, "--save", "bench", "--json")
    found = json.loads(done.out)
    assert [(load["mass_g"], len(load["shown_g"])) for load in found["loads"]] == [(100.0, 2), (200.0, 2)]
    assert all(abs(load["error_g"]) < 0.1 for load in found["loads"])
    # The stand-in moves 30 % of the way every tenth of a second: 0.1 s / -ln 0.7 = 0.28 s.
    assert found["response_s"] == pytest.approx(0.28, abs=0.06)
    assert "Put on 100 g." in done.err
    kept = own.ok("devices", "--bluetooth", "0", "--json").lines[0]
    assert json.loads(kept)["address"] == address


def test_a_scale_of_ones_own_is_recorded_with_what_is_known_of_it(own: Evencup, balance: str) -> None:
    config = own.here / "config"
    config.mkdir()
    (config / "devices.toml").write_text(f'[bench]\naddress = "serial:{balance}"\nresponse_s = 0.31\n')
    recorded = own.ok("record", "--scale", "server=bench", "--for", "1.5", "--into", own.data)
    package = json.loads((recorded.path / "datapackage.json").read_text(encoding="utf-8"))
    (device,) = package["devices"]
    assert (device["name"], device["response_s"], device["channels"]) == ("bench", 0.31, ["server"])


def test_a_good_description_is_in_order_and_a_bad_one_is_told_by_line(own: Evencup) -> None:
    good, bad = own.here / "good.toml", own.here / "bad.toml"
    good.write_text(RADIO_SCALE, encoding="utf-8")
    bad.write_text(RADIO_SCALE.replace("width  = 3", "width  = 13"), encoding="utf-8")
    assert "radio scale: in order" in own.ok("devices", "check", good).out
    done = own.run("devices", "check", good, bad)
    assert done.code == 2
    assert f"{bad}, line " in done.err
    assert "width" in done.err


def test_a_scale_too_coarse_for_the_target_is_told_beforehand(own: Evencup, three_pours: Path) -> None:
    """The open weight service goes in steps of 5 g: good for a dose check, not for a pour."""
    with Bluez() as bluez:
        bluez.tell("device", RADIO, name="Kitchen Scale", services=SCALE)
        bluez.tell("stream", RADIO, WEIGHT, weights(60), 10.0)
        own.env["DBUS_SYSTEM_BUS_ADDRESS"] = bluez.address
        address = f"ble:{RADIO}?timeout_s=8"
        done = own.ok("record", three_pours, "--scale", address, "--into", own.data, "--for", "3")
    assert "goes in steps of 5 g: too coarse for the target's" in " ".join(done.out.split())
    package = json.loads((done.path / "datapackage.json").read_text(encoding="utf-8"))
    assert package["devices"][0]["steps"] == {"scale": 5.0}


def packet(weight_g: float) -> str:
    body = b"\xa5" + round(weight_g * 10).to_bytes(3, "big", signed=True)
    check = 0
    for byte in body:
        check ^= byte
    return (body + bytes([check])).hex()


def test_a_brew_on_a_bluetooth_scale_by_description(own: Evencup) -> None:
    """A described scale on the stand-in for the system's Bluetooth: poured, lost, found again, lifted."""
    description = own.here / "radio-scale.toml"
    description.write_text(RADIO_SCALE, encoding="utf-8")
    with Bluez() as bluez:
        services = {SERVICE: {PACKETS: {"flags": ["notify"]}}}
        bluez.tell("device", RADIO, name="Radio Scale", services=services)
        own.env["DBUS_SYSTEM_BUS_ADDRESS"] = bluez.address
        address = f"ble:{RADIO}?described={description}&silent_s=5&timeout_s=8"
        running = own.start("record", "--scale", address, "--into", own.data, "--for", "30")
        feeder = threading.Thread(target=_pour, args=(bluez,), name="hand")
        feeder.start()
        done = running.done()
        feeder.join()
    assert done.code == 0, done.err
    report = json.loads(own.ok("report", done.path, "--json").out)
    assert [pour["poured_g"] for pour in report["pours"]] == pytest.approx([40.0, 50.0], abs=0.5)
    assert any("the link was lost" in problem for problem in report["problems"])


def _pour(bluez: Bluez) -> None:
    """Two pours, the radio lost between them, and the vessel lifted at the end."""
    while not bluez.tell("state", RADIO)["sessions"]:
        time.sleep(0.05)
    start_s, number, dropped = time.monotonic(), 0, False
    while (since_s := time.monotonic() - start_s) < 26.0:
        if since_s > 8.5 and not dropped:
            dropped = True
            bluez.tell("drop", RADIO, 1.0)
        weight_g = 40.0 * min(max((since_s - 2.0) / 5.0, 0.0), 1.0)
        weight_g += 50.0 * min(max((since_s - 13.0) / 6.0, 0.0), 1.0)
        bluez.tell("notify", RADIO, PACKETS, [packet(-200.0 if since_s > 22.0 else weight_g)])
        number += 1
        time.sleep(max(start_s + number * 0.1 - time.monotonic(), 0.0))
