"""Who may ask and who may change: a request in, nothing or a refusal out; what is asked for is left to the
pages.

The page is served to this computer, or to whom the breeder tells the key. A change needs the page's own form
token, a cookie that is never sent from another site, and a name of the host that is ours.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
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
#: After a wrong key the next is looked at later: so long at first, then twice as long, and at the most [s].
_FIRST_WAIT_S, _LONGEST_WAIT_S = 1.0, 60.0
_MOST_STRANGERS = 1000


class WrongKeys:
    """How long each address that named wrong keys has still to wait."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._tries: dict[str, tuple[int, float]] = {}

    def wait_s(self, address: str) -> float:
        """Seconds before a key from this address is looked at again."""
        with self._lock:
            tries, last = self._tries.get(address, (0, 0.0))
            wait = min(_LONGEST_WAIT_S, _FIRST_WAIT_S * 2 ** (tries - 1)) if tries else 0.0
            return max(0.0, last + wait - self._clock())

    def count(self, address: str) -> int:
        """One wrong key more from this address; how many there were."""
        with self._lock:
            if len(self._tries) >= _MOST_STRANGERS:
                self._tries.pop(next(iter(self._tries)))
            tries = self._tries.pop(address, (0, 0.0))[0] + 1
            self._tries[address] = (tries, self._clock())
            return tries

    def forget(self, address: str) -> None:
        with self._lock:
            self._tries.pop(address, None)


@dataclass(frozen=True)
class Access:
    """What is let in. ``hosts`` are names with port, ``any_number`` lets in every host written as an IP
    address.

    ``secret`` is drawn anew each time the page is served; tokens and cookie follow from it. A form of one
    ``shelf`` is none of another's.
    """

    secret: str
    hosts: frozenset[str]
    port: int
    any_number: bool = False
    shelf: str = ""
    wrong_keys: WrongKeys = field(default_factory=WrongKeys)

    @property
    def token(self) -> str:
        return self._drawn(f"form {self.shelf}")

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

    @property
    def look_cookie_name(self) -> str:
        return f"{self.cookie_name}-look"

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
        return (
            is_loopback(request.remote_addr or "")
            or self.has_cookie(request)
            or self.may_look(request)
            or self.names_key(request)
        )

    def may_look(self, request: Request) -> bool:
        """Does it only look, with the cookie that comes along when a link in a mail is tapped?"""
        looked = request.cookies.get(self.look_cookie_name, "").encode()
        return request.method in ("GET", "HEAD") and hmac.compare_digest(looked, self._drawn("look").encode())

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
        response.headers.setdefault("Cache-Control", "no-store")
        if self.knows_host(request.host) and self.lets_in(request) and not self.has_cookie(request):
            response.set_cookie(self.cookie_name, self.cookie, httponly=True, samesite="Strict", path="/")
            look = self._drawn("look")
            response.set_cookie(self.look_cookie_name, look, httponly=True, samesite="Lax", path="/")
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
