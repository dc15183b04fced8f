"""Who may ask, and from where.

Sources: OWASP Cross-Site Request Forgery Prevention Cheat Sheet (custom request headers, origin);
RFC 9110, section 7.4 (421 for requests that were sent to the wrong server); W3C Content Security
Policy Level 3; OWASP HTTP Headers Cheat Sheet.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

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
