"""Who may ask, and from where.

Sources: OWASP Cross-Site Request Forgery Prevention Cheat Sheet (custom request headers, origin);
RFC 9110, section 7.4 (421 for requests that were sent to the wrong server); W3C Content Security
Policy Level 3; OWASP HTTP Headers Cheat Sheet.
"""

from __future__ import annotations

from pathlib import Path

import anyio
import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st
from starlette.types import Message

from kerfwright.web.app import guarded, make_app
from kerfwright.web.guard import PAGE_HEADER
from kerfwright.web.workshop import Workshop, is_slug, slug_of
from small_workshop import SLUG, SmallWorkshop

HOME = "http://127.0.0.1:8000"

CHANGE = {"changes": [{"at": ["title"], "value": "Changed"}]}

OURS = {PAGE_HEADER: "page"}


def asking(
    workshop: SmallWorkshop, *, token: str | None = None, home: str = HOME, most: int = 100_000
) -> TestClient:
    app = guarded(make_app(workshop.workshop), token=token, most_bytes=most)
    return TestClient(app, base_url=home, follow_redirects=False)


def title(workshop: SmallWorkshop) -> str:
    text = (workshop.order / "order.toml").read_text(encoding="utf-8")
    return text.split('"')[1]


@pytest.mark.parametrize(
    "home", ["http://eiderwick.example", "http://127.0.0.1.eiderwick.example", "http://10.1.2.3"]
)
def test_names_that_point_here_from_outside_are_not_answered(
    workshop: SmallWorkshop, home: str
) -> None:
    assert asking(workshop, home=home).get("/api/orders").status_code == 421


@pytest.mark.parametrize("home", [HOME, "http://localhost:8000", "http://[::1]:8000"])
def test_this_computer_is_answered(workshop: SmallWorkshop, home: str) -> None:
    assert asking(workshop, home=home).get("/api/orders").status_code == 200


def test_our_pages_may_change_an_order(workshop: SmallWorkshop) -> None:
    answer = asking(workshop).patch(f"/api/orders/{SLUG}", json=CHANGE, headers=OURS)
    assert answer.status_code == 200
    assert title(workshop) == "Changed"


@pytest.mark.parametrize(
    "headers",
    [
        {},
        OURS | {"origin": "http://eiderwick.example"},
        OURS | {"origin": "null"},
        OURS | {"origin": "http://127.0.0.1:8001"},
        OURS | {"sec-fetch-site": "cross-site"},
        OURS | {"sec-fetch-site": "same-site"},
        {"content-type": "text/plain"},
    ],
)
def test_a_change_asked_for_elsewhere_is_not_made(
    workshop: SmallWorkshop, headers: dict[str, str]
) -> None:
    answer = asking(workshop).patch(f"/api/orders/{SLUG}", json=CHANGE, headers=headers)
    assert answer.status_code == 403
    assert answer.json()["code"] == "pages/from-elsewhere"
    assert title(workshop) == "Small order"


def test_every_way_that_changes_something_asks_for_the_header(workshop: SmallWorkshop) -> None:
    client = asking(workshop)
    paths = client.get("/api/openapi.json").json()["paths"]
    changing = [
        (way, path) for path, ways in paths.items() for way in ways if way not in {"get", "head"}
    ]
    assert len(changing) > 5
    for way, path in changing:
        filled = path.replace("{slug}", SLUG).replace("{number}", "1")
        assert client.request(way, filled).status_code == 403, (way, path)


def test_without_the_token_nobody_gets_in(workshop: SmallWorkshop) -> None:
    client = asking(workshop, token="right")
    for headers in ({}, {"authorization": "Bearer wrong"}, {"cookie": "kerfwright=wrong"}):
        assert client.get("/api/orders", headers=headers).status_code == 401
        assert client.get("/pages/base.css", headers=headers).status_code == 401
    assert client.get("/?token=wrong").status_code == 401


def test_the_address_with_the_token_opens_once_and_then_the_browser_knows(
    workshop: SmallWorkshop,
) -> None:
    client = asking(workshop, token="right")
    first = client.get("/?token=right")
    assert (first.status_code, first.headers["location"]) == (303, "/")
    cookie = first.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert client.get("/api/orders").status_code == 200


def test_programs_may_send_the_token(workshop: SmallWorkshop) -> None:
    client = asking(workshop, token="right")
    assert client.get("/api/orders", headers={"authorization": "Bearer right"}).status_code == 200


def test_too_much_is_refused_by_what_it_says_and_by_what_it_is(workshop: SmallWorkshop) -> None:
    client = asking(workshop, most=1000)
    says = client.patch(f"/api/orders/{SLUG}", content=b"x" * 2000, headers=OURS)
    assert says.status_code == 413

    def pieces() -> object:
        for _ in range(100):
            yield b"x" * 100

    unsaid = client.patch(f"/api/orders/{SLUG}", content=pieces(), headers=OURS)  # type: ignore[arg-type]
    assert unsaid.status_code == 413
    assert title(workshop) == "Small order"


@pytest.mark.parametrize("path", ["/", f"/orders/{SLUG}", "/stock", "/help/index", "/api/orders"])
def test_pages_load_nothing_from_elsewhere_and_are_framed_nowhere(
    workshop: SmallWorkshop, path: str
) -> None:
    headers = asking(workshop).get(path).headers
    policy = dict(
        part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy.get("script-src", "'none'") in {"'none'", "'self'"}
    assert "script-src" not in policy or policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize(
    "path",
    [
        "/api/orders/..%2f..",
        "/api/orders/%2e%2e/files/order.toml",
        f"/api/orders/{SLUG}/files/..%2forder.toml",
        f"/api/orders/{SLUG}/files/%2e%2e%2forder.toml",
        f"/api/orders/{SLUG}/files/.hidden",
        "/pages/..%2fapp.py",
        "/pages/%2e%2e/app.py",
        "/help/..%2f..%2fREADME",
        "/api/calibration/..%2f../files/machine.toml",
    ],
)
def test_no_path_leads_out_of_a_plan(planned: SmallWorkshop, path: str) -> None:
    (planned.order / "plan" / ".hidden").write_text("hidden", encoding="utf-8")
    answer = asking(planned).get(path)
    assert answer.status_code == 404
    assert "title =" not in answer.text
    assert "hidden" not in answer.text.replace(".hidden", "")


@given(st.text(max_size=80))
def test_titles_of_any_kind_become_plain_names(title: str) -> None:
    slug = slug_of(title)
    assert slug == "" or is_slug(slug)
    assert len(slug) <= 60


def test_orders_of_one_title_get_folders_of_their_own(tmp_path: Path) -> None:
    made = Workshop(tmp_path)
    names = []
    for _ in range(3):
        order = made.new_order_folder("Harbour sign")
        order.folder.mkdir(parents=True)
        order.file.write_text("", encoding="utf-8")
        names.append(order.slug)
    assert names == ["harbour-sign", "harbour-sign-2", "harbour-sign-3"]


@pytest.mark.parametrize(
    "path", ["//eiderwick.example/", "/%2feiderwick.example", "/\\\\eiderwick"]
)
def test_the_token_opens_no_way_to_another_site(workshop: SmallWorkshop, path: str) -> None:
    scope = f"{HOME}{path}?token=right"
    location = asking(workshop, token="right").get(scope).headers["location"]
    assert location.startswith("/")
    assert not location.startswith(("//", "/\\"))


def test_the_token_is_not_in_what_the_browser_shows_or_sends_on(workshop: SmallWorkshop) -> None:
    first = asking(workshop, token="right").get("/stock?token=right")
    assert first.headers["location"] == "/stock"
    assert first.headers["referrer-policy"] == "no-referrer"
    assert "kerfwright-8000=" in first.headers["set-cookie"]


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_sites_page_does_not_even_read(workshop: SmallWorkshop, site: str) -> None:
    client = asking(workshop)
    headers = {"sec-fetch-site": site}
    assert client.get("/api/orders", headers=headers).status_code == 403
    assert client.get("/stock", headers=headers).status_code == 200


@pytest.mark.parametrize("path", ["/api/events", "/api/orders", "/", "/pages/base.css"])
@pytest.mark.parametrize("way", ["GET", "HEAD", "OPTIONS", "POST", "PUT", "DELETE"])
def test_no_way_of_asking_goes_round_the_token(
    workshop: SmallWorkshop, path: str, way: str
) -> None:
    client = asking(workshop, token="right")
    assert client.request(way, path, headers=OURS).status_code == 401


def test_a_server_that_listens_everywhere_is_asked_by_its_own_number(
    workshop: SmallWorkshop,
) -> None:
    app = guarded(make_app(workshop.workshop), token="right", by_number=True)
    headers = {"authorization": "Bearer right"}
    own = TestClient(app, base_url="http://10.1.2.3:8000")
    assert own.get("/api/orders", headers=headers).status_code == 200
    # the connection came in by 10.1.2.3, whatever the name says
    other = own.get("/api/orders", headers=headers | {"host": "10.9.9.9:8000"})
    assert other.status_code == 421


def test_what_is_no_file_may_be_less_large(workshop: SmallWorkshop) -> None:
    client = asking(workshop, most=2**30)
    headers = OURS | {"content-length": str(2**25)}
    says = client.patch(f"/api/orders/{SLUG}", content=b"{}", headers=headers)
    assert says.status_code == 413
    for length in ("-1", "x", "9" * 30):
        headers = OURS | {"content-length": length}
        assert client.patch(f"/api/orders/{SLUG}", content=b"", headers=headers).status_code == 413


def test_who_stops_in_the_middle_is_sent_away(workshop: SmallWorkshop) -> None:
    app = guarded(make_app(workshop.workshop), silence_s=0.05)
    told: list[Message] = []

    async def ask() -> None:
        begun = [b'{"changes"']

        async def receive() -> Message:
            if not begun:
                await anyio.sleep_forever()
            return {"type": "http.request", "body": begun.pop(), "more_body": True}

        async def send(message: Message) -> None:
            told.append(message)

        names = [(b"host", b"localhost"), (PAGE_HEADER.encode(), b"page")]
        scope = {
            "type": "http",
            "method": "PATCH",
            "path": f"/api/orders/{SLUG}",
            "raw_path": b"",
            "query_string": b"",
            "headers": [*names, (b"content-type", b"application/json")],
            "server": ("localhost", 80),
        }
        await app(scope, receive, send)

    anyio.run(ask)
    assert told[0]["status"] == 408
