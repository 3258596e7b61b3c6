"""Who may ask and who may change: everything else is refused, and a refusal loses nothing."""

from __future__ import annotations

import pytest

from tests.worktop.conftest import FIRST, HOME, Desk, plain

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
    assert answer.status_code == 413
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
    data = {**marks, "u0": "22", "u1": "18"}
    answer = started_again.client.post(f"/packing/{FIRST}/pack", base_url=HOME, data=data, headers=headers)
    assert answer.status_code == 403
    assert "What you typed is kept here" in plain(answer.text)
    assert 'name="u0" value="22"' in answer.text
    data["token"] = answer.headers["X-Token"]
    assert (
        started_again.client.post(
            f"/packing/{FIRST}/pack", base_url=HOME, data=data, headers=headers
        ).status_code
        == 303
    )
    assert {count.eggs for count in started_again.parcel().counts} == {22, 18}


def test_another_device_is_let_in_only_with_the_key(desk: Desk) -> None:
    other = desk.app.test_client()
    from_afar = {"REMOTE_ADDR": "192.168.1.77"}
    assert other.get("/packing", base_url=HOME, environ_overrides=from_afar).status_code == 403
    assert other.get("/?key=wrong", base_url=HOME, environ_overrides=from_afar).status_code == 403
    assert (
        other.get(f"/?key={desk.worktop.access.key}", base_url=HOME, environ_overrides=from_afar).status_code
        == 303
    )
    assert other.get("/packing", base_url=HOME, environ_overrides=from_afar).status_code == 200


def test_broken_tables_are_told_by_row_with_what_would_mend_them(desk: Desk) -> None:
    lots = desk.folder / "lots.csv"
    lots.write_text(
        lots.read_text(encoding="utf-8").replace(",38,2026-11-30", ",thirty,2026-11-30"), encoding="utf-8"
    )
    answer = desk.get("/")
    assert answer.status_code == 503
    assert "lots.csv:2: eggs: 'thirty' is not a number" in plain(answer.text)


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
    for path in ("/", "/packing"):
        page = desk.get(path).text
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert(1)" in page
