"""Who may ask and who may change: a request in, nothing or a refusal out; what is asked for is left to the
pages.

The page is served to this computer, or to whom the breeder tells the key. A change needs the page's own form
token, a cookie that is never sent from another site, and a name of the host that is ours.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlsplit

from flask import Request, Response

#: A form is never larger [bytes].
MOST_BODY = 64_000
#: No script, style, picture or form leaves for another address.
CONTENT_POLICY = (
    "default-src 'self'; base-uri 'none'; object-src 'none'; form-action 'self'; frame-ancestors 'none';"
    " img-src 'self'"
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


@dataclass(frozen=True)
class Access:
    """What is let in. ``hosts`` are names with port, ``any_number`` lets in every host written as an IP
    address.

    ``secret`` is drawn anew each time the page is served; tokens and cookie follow from it.
    """

    secret: str
    hosts: frozenset[str]
    port: int
    any_number: bool = False

    @property
    def token(self) -> str:
        return self._drawn("form")

    @property
    def key(self) -> str:
        """What another device must name once, in the address that is printed when the page is served."""
        return self._drawn("key")[:16]

    @property
    def cookie(self) -> str:
        return self._drawn("cookie")

    @property
    def cookie_name(self) -> str:
        """Cookies are shared by all ports of a host, hence the number."""
        return f"worktop-{self.port}"

    def _drawn(self, what: str) -> str:
        return hmac.new(self.secret.encode(), what.encode(), hashlib.sha256).hexdigest()[:40]

    def knows_host(self, host: str) -> bool:
        """Is this one of our own names? A name of somebody else's that leads here is not."""
        if host.casefold() in self.hosts:
            return True
        if not self.any_number:
            return False
        try:
            parts = urlsplit(f"//{host}")
            ipaddress.ip_address(parts.hostname or "")
            return parts.port == self.port
        except ValueError:
            return False

    def lets_in(self, request: Request) -> bool:
        """Is it this computer, or a device that has named the key?"""
        return is_loopback(request.remote_addr or "") or self.has_cookie(request) or self.names_key(request)

    def names_key(self, request: Request) -> bool:
        return hmac.compare_digest(request.args.get("key", "").encode(), self.key.encode())

    def has_cookie(self, request: Request) -> bool:
        return hmac.compare_digest(request.cookies.get(self.cookie_name, "").encode(), self.cookie.encode())

    def has_token(self, request: Request) -> bool:
        return hmac.compare_digest(request.form.get("token", "").encode(), self.token.encode())

    def is_from_elsewhere(self, request: Request) -> bool:
        """Does the browser say that another site's page sent this?"""
        site = request.headers.get("Sec-Fetch-Site", "")
        origin = request.headers.get("Origin")
        return site not in ("", "same-origin", "none") or (
            origin is not None and origin != f"http://{request.host}"
        )

    def is_surely_ours(self, request: Request) -> bool:
        """Does the browser say that a page of ours sent this?"""
        same = request.headers.get("Sec-Fetch-Site") == "same-origin"
        return (
            same or request.headers.get("Origin") == f"http://{request.host}"
        ) and not self.is_from_elsewhere(request)

    def seal(self, request: Request, response: Response) -> Response:
        """The answer with the headers that keep it to itself, and the cookie where it lacks."""
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        response.headers.setdefault("Cache-Control", "private, no-cache")
        if self.knows_host(request.host) and self.lets_in(request) and not self.has_cookie(request):
            response.set_cookie(self.cookie_name, self.cookie, httponly=True, samesite="Strict", path="/")
        return response


def is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address.partition("%")[0]).is_loopback
    except ValueError:
        return False


def host_names(addresses: Iterable[str], port: int) -> frozenset[str]:
    """How the page may be called: every address with its port, and this computer's own names for itself."""
    names: set[str] = set()
    for address in (*addresses, "127.0.0.1", "localhost", "::1"):
        host = f"[{address}]" if ":" in address else address
        names.add(f"{host}:{port}".casefold())
        if port == 80:
            names.add(host.casefold())
    return frozenset(names)
