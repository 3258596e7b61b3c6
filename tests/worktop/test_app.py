"""Who may ask and who may change: everything else is refused, and a refusal loses nothing."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from shipping.papers.page.drawing import qr_squares
from shipping.worktop.app import make_app
from shipping.worktop.context import with_small_print
from tests.worktop.conftest import FIRST, HOME, TODAY, Desk, plain, said

FORMS = (
    "/plan/keep",
    f"/packing/{FIRST}/count",
    f"/packing/{FIRST}/pack",
    f"/packing/{FIRST}/send",
    f"/packing/{FIRST}/undo",
    f"/arrivals/{FIRST}",
    f"/arrivals/{FIRST}/undo",
    "/lots/FL-31/look",
    "/rules/abc",
)
PAGES = ("/", "/plan", "/packing", "/arrivals", "/lots", "/rules", "/ask", "/ask?lot=FL-31&to=DE", "/mark")


@pytest.mark.parametrize(
    "host", ["evil.example.org", "evil.example.org:8765", "127.0.0.1:80", "127.0.0.1", "[::1]:1", ""]
)
def test_a_host_that_is_not_ours_is_refused_even_if_its_name_leads_here(desk: Desk, host: str) -> None:
    for path in ("/", f"/papers/{FIRST}.pdf", "/worktop.js"):
        assert desk.client.get(path, base_url=HOME, headers={"Host": host}).status_code == 403


@pytest.mark.parametrize("host", ["127.0.0.1:8765", "localhost:8765", "[::1]:8765"])
def test_this_computers_own_names_are_let_in(desk: Desk, host: str) -> None:
    assert desk.client.get("/packing", base_url=HOME, headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("path", FORMS)
def test_a_form_without_its_token_is_refused(desk: Desk, path: str) -> None:
    marks = {name: value for name, value in desk.marks().items() if name != "token"}
    assert desk.post(path, marks, u0="23", u1="18").status_code == 403
    assert desk.post(path, marks, token="0" * 40, u0="23", u1="18").status_code == 403
    assert desk.entries() == 1


@pytest.mark.parametrize("path", FORMS)
def test_a_form_without_the_cookie_is_refused(desk: Desk, path: str) -> None:
    marks = desk.marks()
    stranger = desk.app.test_client()
    assert stranger.post(path, base_url=HOME, data={**marks, "u0": "23", "u1": "18"}).status_code == 403
    assert desk.entries() == 1


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example.org"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_sent_by_another_sites_page_is_refused_whatever_it_carries(
    desk: Desk, headers: dict[str, str]
) -> None:
    marks = desk.marks()
    answer = desk.client.post(
        f"/packing/{FIRST}/pack", base_url=HOME, data={**marks, "u0": "23", "u1": "18"}, headers=headers
    )
    assert answer.status_code == 403
    assert marks["token"] not in answer.text
    assert desk.entries() == 1


@pytest.mark.parametrize("path", FORMS)
def test_nothing_changes_by_looking(desk: Desk, path: str) -> None:
    assert desk.get(path, u0="23", u1="18").status_code == 405
    assert desk.entries() == 1


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE"])
def test_other_ways_of_asking_are_refused(desk: Desk, method: str) -> None:
    assert desk.client.open("/packing", base_url=HOME, method=method).status_code in (403, 405, 413)


def test_a_body_of_ten_megabytes_is_refused_unread(desk: Desk) -> None:
    marks = desk.marks()
    answer = desk.client.post(
        f"/packing/{FIRST}/pack", base_url=HOME, data={**marks, "note": "x" * 10_000_000}
    )
    of_no_length = {"Transfer-Encoding": "chunked"}
    endless = desk.client.post(f"/packing/{FIRST}/pack", base_url=HOME, data=marks, headers=of_no_length)
    assert (answer.status_code, endless.status_code) == (413, 413)
    assert desk.entries() == 1


@pytest.mark.parametrize(
    "path",
    [
        "/../shelf.toml",
        "/%2e%2e/shelf.toml",
        "/worktop.css/../../shelf.toml",
        "/pages/base.html",
        "/orders.csv",
        "/ledger.sqlite",
    ],
)
def test_no_path_leads_to_a_file_of_the_shelf(desk: Desk, path: str) -> None:
    assert desk.get(path).status_code == 404


@pytest.mark.parametrize("path", PAGES)
def test_every_page_keeps_itself_to_itself(desk: Desk, path: str) -> None:
    headers = desk.get(path).headers
    policy = headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["X-Content-Type-Options"] == "nosniff"


def test_the_cookie_is_never_sent_from_another_site(desk: Desk) -> None:
    cookie = desk.app.test_client().get("/", base_url=HOME).headers["Set-Cookie"]
    assert "SameSite=Strict" in cookie
    assert "HttpOnly" in cookie


@pytest.mark.parametrize("path", PAGES)
def test_no_page_names_another_host(desk: Desk, path: str) -> None:
    page = desk.get(path).text
    assert "http://" not in page
    assert "https://" not in page
    assert "//cdn" not in page


def test_a_form_typed_before_a_restart_is_shown_again_whole_and_recorded_with_one_more_tap(
    desk: Desk,
) -> None:
    marks = desk.marks()
    started_again = Desk(desk.folder, secret="another secret")
    headers = {"Origin": HOME}
    data = {**marks, "u0": "24", "u1": "18"}
    answer = started_again.client.post(f"/packing/{FIRST}/pack", base_url=HOME, data=data, headers=headers)
    assert answer.status_code == 403
    assert "What you typed is kept here" in plain(answer.text)
    assert 'name="u0" value="24"' in answer.text
    assert marks["token"] not in answer.text
    data["token"] = answer.headers["X-Token"]
    assert (
        started_again.client.post(
            f"/packing/{FIRST}/pack", base_url=HOME, data=data, headers=headers
        ).status_code
        == 303
    )
    assert {count.eggs for count in started_again.parcel().counts} == {24, 18}


FROM_AFAR = {"REMOTE_ADDR": "192.168.1.77"}


def test_another_device_is_let_in_only_with_the_key(desk: Desk) -> None:
    other = desk.app.test_client()
    assert other.get("/packing", base_url=HOME, environ_overrides=FROM_AFAR).status_code == 403
    key = desk.worktop.access.key
    assert other.get(f"/?key={key}", base_url=HOME, environ_overrides=FROM_AFAR).status_code == 303
    assert other.get("/packing", base_url=HOME, environ_overrides=FROM_AFAR).status_code == 200


def test_wrong_keys_slow_down_and_are_logged_without_the_key(
    desk: Desk, caplog: pytest.LogCaptureFixture
) -> None:
    other = desk.app.test_client()
    assert other.get("/?key=guess", base_url=HOME, environ_overrides=FROM_AFAR).status_code == 403
    right = f"/?key={desk.worktop.access.key}"
    waiting = other.get(right, base_url=HOME, environ_overrides=FROM_AFAR)
    assert (waiting.status_code, waiting.headers["Retry-After"]) == (429, "1")
    assert "A wrong key from 192.168.1.77" in caplog.text
    assert "guess" not in caplog.text
    elsewhere = {"REMOTE_ADDR": "192.168.1.78"}
    assert other.get(right, base_url=HOME, environ_overrides=elsewhere).status_code == 303


def test_a_key_link_tapped_in_a_mail_lets_the_device_look_and_its_next_tap_may_change(desk: Desk) -> None:
    """After a tap in a mail a browser follows the redirect with its lax cookies, and no strict one."""
    first = desk.app.test_client().get(
        f"/?key={desk.worktop.access.key}", base_url=HOME, environ_overrides=FROM_AFAR
    )
    cookies = [text.partition(";")[0] for text in first.headers.getlist("Set-Cookie")]
    strict, lax = (text.partition(";")[0] for text in first.headers.getlist("Set-Cookie"))
    assert "SameSite=Lax" in first.headers.getlist("Set-Cookie")[1]
    after = desk.app.test_client(use_cookies=False)
    looked = after.get("/packing", base_url=HOME, environ_overrides=FROM_AFAR, headers={"Cookie": lax})
    assert looked.status_code == 200
    marks = desk.marks() | {"u0": "23", "u1": "18"}
    path = f"/packing/{FIRST}/pack"
    for cookie, status in ((lax, 403), ("; ".join(cookies), 303)):
        answer = after.post(
            path, base_url=HOME, environ_overrides=FROM_AFAR, data=marks, headers={"Cookie": cookie}
        )
        assert answer.status_code == status, strict


def test_the_page_that_refuses_a_stranger_is_styled_and_names_no_page(desk: Desk) -> None:
    other = desk.app.test_client()
    page = other.get("/packing", base_url=HOME, environ_overrides=FROM_AFAR)
    assert "/worktop.css" in page.text
    assert "/arrivals" not in page.text
    assert other.get("/worktop.css", base_url=HOME, environ_overrides=FROM_AFAR).status_code == 200


@pytest.mark.parametrize("path", PAGES)
def test_pages_with_names_are_not_stored(desk: Desk, path: str) -> None:
    assert desk.get(path).headers["Cache-Control"] == "no-store"


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/lots/FL-31/look", {"stage": "eyed", "on": "2026-11-30", "note": "x" * 501}),
        (f"/packing/{FIRST}/send", {"item": "R" * 41}),
    ],
)
def test_a_text_that_is_too_long_is_refused_and_never_cut(
    desk: Desk, path: str, fields: dict[str, str]
) -> None:
    desk.pack(u0="23", u1="18")
    answer = desk.post(path, **fields)
    assert answer.status_code == 422
    assert "letters long" in said(answer)
    assert max(fields.values(), key=len) in answer.text


def test_a_page_that_is_not_there_frightens_nobody_and_leads_on(desk: Desk) -> None:
    answer = desk.get("/nothing-here")
    assert answer.status_code == 404
    assert "Nothing was recorded" not in answer.text
    assert 'href="/packing"' in answer.text


def test_the_code_for_a_tablet_reads_as_its_address(desk: Desk, tmp_path: Path) -> None:
    """Read by zbarimg, which knows nothing of the drawing. The computer has moved into another network."""
    assert desk.get("/tablet.svg").status_code == 404
    at = ["http://10.0.0.7:8765/?key=0123456789abcdef"]
    app = make_app(desk.folder, lambda: TODAY, "a secret", addresses_now=lambda key: tuple(at))
    page = app.test_client().get("/tablet", base_url=HOME)
    assert at[0] in plain(page.text)
    assert "has changed since" not in page.text
    at[0] = address = "http://192.168.1.20:8765/?key=0123456789abcdef"
    moved = app.test_client().get("/tablet", base_url=HOME)
    assert address in plain(moved.text)
    assert "has changed since this page was started" in moved.text
    assert app.test_client().get("/tablet.svg", base_url=HOME).status_code == 200
    squares = qr_squares(address)
    rows = [bytes(0 if dark else 255 for dark in row for _ in range(6)) * 6 for row in squares]
    picture = tmp_path / "code.pgm"
    side = 6 * len(squares)
    picture.write_bytes(b"P5 %d %d 255\n" % (side, side) + b"".join(rows))
    read = subprocess.run(["zbarimg", "-q", "--raw", picture], capture_output=True, text=True, check=True)
    assert read.stdout.strip() == address


def test_broken_tables_are_told_by_row_with_what_would_mend_them(desk: Desk) -> None:
    lots = desk.folder / "lots.csv"
    lots.write_text(
        lots.read_text(encoding="utf-8").replace(",38,2026-11-30", ",thirty,2026-11-30"), encoding="utf-8"
    )
    answer = desk.get("/week")
    assert answer.status_code == 503
    assert "lots.csv:2: Eggs: 'thirty' is not a number" in plain(answer.text)


def test_one_broken_row_closes_its_table_and_not_the_bench_of_a_kept_plan(desk: Desk) -> None:
    orders = desk.folder / "orders.csv"
    orders.write_text(orders.read_text(encoding="utf-8") + "D99,someday,,Nobody\n", encoding="utf-8")
    page = desk.text("/packing")
    assert "orders.csv:" in page
    assert "What rests on it is left out here" in page
    assert desk.get("/plan").status_code == 503
    assert desk.pack(u0="23", u1="18").status_code == 200
    assert desk.parcel().state == "packed"


def test_script_in_a_name_is_text_on_every_page(desk: Desk) -> None:
    orders = desk.folder / "orders.csv"
    text = orders.read_text(encoding="utf-8")
    text = text.replace("902,,,,5000,Odense", "902,,,,5000,<script>alert(1)</script>")
    orders.write_text(text, encoding="utf-8")
    for path in ("/week", "/packing"):
        page = desk.get(path).text
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert(1)" in page


@pytest.mark.parametrize("said", ["<i>FL-31", "packed\n<i>FL-31", "<i>packed\nFL-31"])
def test_script_in_what_is_said_is_text(said: str) -> None:
    assert "&lt;i&gt;" in with_small_print(said)
