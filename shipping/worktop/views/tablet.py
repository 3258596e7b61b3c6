"""The page for a tablet: where else this worktop is served in, its address and its code out."""

from __future__ import annotations

import _thread
import threading

from flask import Flask, Response, abort, make_response, request

from shipping.papers.page.qr import qr_svg
from shipping.worktop.access import is_loopback
from shipping.worktop.context import Worktop

#: The page that says it goes out before the serving ends [s].
_ANSWER_FIRST_S = 0.3


class TabletPage:
    """How another device comes in, and who can reach this page at all."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/tablet", "tablet", self.show)
        app.add_url_rule("/tablet.svg", "tablet_code", self.code)
        app.add_url_rule("/stop", "stop", self.stop, methods=["POST"])

    def stop(self) -> Response:
        """Ends the serving, from this computer only; the page that says so goes out first."""
        if not is_loopback(request.remote_addr or ""):
            abort(403)
        threading.Timer(_ANSWER_FIRST_S, _thread.interrupt_main).start()
        return self.worktop.page("stopped.html", bare=True)

    def show(self) -> Response:
        return self.worktop.page("tablet.html", elsewhere=self.worktop.elsewhere)

    def code(self) -> Response:
        if not self.worktop.elsewhere:
            abort(404)
        answer = make_response(qr_svg(self.worktop.elsewhere[0]))
        answer.headers["Content-Type"] = "image/svg+xml"
        return answer
