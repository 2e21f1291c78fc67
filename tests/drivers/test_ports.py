from __future__ import annotations

import os

import pytest

from drivers import ports
from drivers.ports import permission_fix, ports_hint, serial_ports


def test_what_is_connected_has_an_address_to_paste():
    for found in serial_ports():
        assert found.address.startswith("serial:")
        assert found.port
        assert bool(found.problem) == bool(found.fix)


def test_the_hint_names_what_is_there_or_says_that_nothing_is():
    addresses = [found.address for found in serial_ports()]
    assert all(address in ports_hint() for address in addresses)
    assert addresses or "No serial port is connected" in ports_hint()


def test_a_port_is_called_by_its_stable_name(tmp_path):
    port = tmp_path / "ttyUSB0"
    port.touch()
    by_id = tmp_path / "by-id"
    by_id.mkdir()
    (by_id / "usb-scale-port0").symlink_to(port)
    assert ports._stable_names(by_id) == {str(port.resolve()): str(by_id / "usb-scale-port0")}
    assert ports._stable_names(tmp_path / "missing") == {}


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only root can give a file away")
def test_the_fix_names_the_group_of_the_port(tmp_path):
    import grp

    group = next(group for group in grp.getgrall() if group.gr_gid != 0 and not group.gr_mem)
    port = tmp_path / "ttyUSB0"
    port.touch()
    os.chown(port, 0, group.gr_gid)
    port.chmod(0o660)
    assert f"usermod -aG {group.gr_name} $USER" in permission_fix(str(port))
    port.chmod(0o600)
    assert f"chmod a+rw {port}" in permission_fix(str(port))


def test_the_fix_for_a_port_that_is_gone_is_still_a_sentence():
    assert permission_fix("/dev/ttyNOSUCH").endswith(".")
