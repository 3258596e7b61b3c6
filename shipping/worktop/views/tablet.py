"""The page for a tablet: where else this worktop is served in, its address and its code out."""

from __future__ import annotations

from flask import Flask, Response, abort, make_response

from shipping.papers.page.qr import qr_svg
from shipping.worktop.context import Worktop


class TabletPage:
    """How another device comes in, and who can reach this page at all."""

    def __init__(self, worktop: Worktop) -> None:
        self.worktop = worktop

    def add_to(self, app: Flask) -> None:
        app.add_url_rule("/tablet", "tablet", self.show)
        app.add_url_rule("/tablet.svg", "tablet_code", self.code)

    def show(self) -> Response:
        return self.worktop.page("tablet.html", elsewhere=self.worktop.elsewhere)

    def code(self) -> Response:
        if not self.worktop.elsewhere:
            abort(404)
        answer = make_response(qr_svg(self.worktop.elsewhere[0]))
        answer.headers["Content-Type"] = "image/svg+xml"
        return answer
