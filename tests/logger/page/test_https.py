"""The page over https, by a certificate of the brewer's own."""

from __future__ import annotations

import shutil
import ssl
import subprocess
from pathlib import Path

import httpx
import pytest

from logger.errors import BadInputError
from logger.page.board import Board
from logger.page.feed import Feed
from logger.page.serving import LivePage, Place
from tests.logger.page.ports import free_port


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A brewer's own, as ``openssl`` makes it."""
    if shutil.which("openssl") is None:
        pytest.skip("needs openssl: apt-get install openssl")
    here = tmp_path_factory.mktemp("certificate")
    request = (
        "openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2 -subj /CN=bench"
    )
    names = ["-addext", "subjectAltName=IP:127.0.0.1", "-keyout", "key.pem", "-out", "cert.pem"]
    subprocess.run([*request.split(), *names], cwd=here, check=True, capture_output=True)
    return here / "cert.pem", here / "key.pem"


async def test_with_a_certificate_the_page_is_served_by_https(certificate: tuple[Path, Path]) -> None:
    board = Board()
    board.add("", Feed("Four pours"))
    async with LivePage(
        board, Place(port=free_port(), certificate=certificate[0], key=certificate[1])
    ) as page:
        assert page.urls[0].startswith("https://127.0.0.1:")
        trusting = ssl.create_default_context(cafile=str(certificate[0]))
        async with httpx.AsyncClient(verify=trusting) as client:
            assert (await client.get(page.urls[0])).status_code == 200
            own = {"origin": f"https://127.0.0.1:{page.port}"}
            assert (await client.get(page.urls[0] + "pour.js", headers=own)).status_code == 200
            other = {"origin": f"http://127.0.0.1:{page.port}"}
            assert (await client.get(page.urls[0] + "pour.js", headers=other)).status_code == 403


def test_what_is_no_certificate_is_told(tmp_path: Path) -> None:
    (tmp_path / "cert.pem").write_text("no certificate")
    for name in ("cert.pem", "missing.pem"):
        with pytest.raises(BadInputError, match="cannot be used for https"):
            LivePage(Board(), Place(certificate=tmp_path / name))
