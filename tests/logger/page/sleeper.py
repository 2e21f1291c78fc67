"""A tab that can be put to sleep, by the browser's own protocol: Playwright keeps its pages awake."""

from __future__ import annotations

import itertools
import json
import time
from typing import Any

from playwright.sync_api import Browser, Page

from tests.logger.page.watching import WITNESS


class Sleeper:
    """A tab of its own.

    :param aside: any page of the same browser, to pass the time with
    """

    def __init__(self, browser: Browser, aside: Page) -> None:
        self._aside, self._numbers = aside, itertools.count(1)
        self._answers: dict[int, dict[str, Any]] = {}
        self._browser = browser.new_browser_cdp_session()
        self._browser.on("Target.receivedMessageFromTarget", self._take)
        context = self._browser.send("Target.createBrowserContext")["browserContextId"]
        page = {"url": "about:blank", "browserContextId": context}
        target = self._browser.send("Target.createTarget", page)["targetId"]
        attached = self._browser.send("Target.attachToTarget", {"targetId": target, "flatten": False})
        self._session: str = attached["sessionId"]
        self._send("Page.enable")
        self._send("Page.addScriptToEvaluateOnNewDocument", {"source": WITNESS})

    def open(self, url: str) -> None:
        self._send("Page.navigate", {"url": url})

    def freeze(self, frozen: bool) -> None:
        """Put the tab to sleep, out of sight, or wake it."""
        if frozen:
            self._send("Emulation.setFocusEmulationEnabled", {"enabled": False})
        self._send("Page.setWebLifecycleState", {"state": "frozen" if frozen else "active"})
        if not frozen:
            self._send("Emulation.setFocusEmulationEnabled", {"enabled": True})

    def read(self, expression: str) -> Any:
        """Read something of the page, which must be awake."""
        asked = {"expression": f"({expression})", "returnByValue": True}
        return self._send("Runtime.evaluate", asked)["result"]["result"].get("value")

    @property
    def seen(self) -> list[dict[str, Any]]:
        """The moments that were drawn."""
        return list(self.read("seen"))

    @property
    def said(self) -> list[str]:
        """What was said aloud."""
        return list(self.read("spoken.map((words) => words.text)"))

    @property
    def time_s(self) -> float:
        """The moment that is shown, on the readings' axis."""
        return float(self.read("document.body?.dataset.time ?? 0"))

    def until(self, expression: str, timeout_s: float = 60.0) -> None:
        deadline_s = time.monotonic() + timeout_s
        while not self.read(expression):
            assert time.monotonic() < deadline_s, expression
            self._aside.wait_for_timeout(15)

    def _send(self, method: str, params: dict[str, Any] | None = None) -> dict[str, Any]:
        number = next(self._numbers)
        message = json.dumps({"id": number, "method": method, "params": params or {}})
        self._browser.send("Target.sendMessageToTarget", {"message": message, "sessionId": self._session})
        deadline_s = time.monotonic() + 60.0
        while number not in self._answers:
            assert time.monotonic() < deadline_s, method
            self._aside.wait_for_timeout(5)
        return self._answers.pop(number)

    def _take(self, event: dict[str, Any]) -> None:
        answer = json.loads(event["message"])
        if "id" in answer:
            self._answers[answer["id"]] = answer
