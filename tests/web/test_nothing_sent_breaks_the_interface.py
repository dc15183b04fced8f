"""Whatever is sent to the interface, it answers in its own form and stays within its folder.

What is sent is drawn from the interface's own description (OpenAPI Specification 3.1), and then
made wrong: other types, numbers beyond all bounds, texts that are no Unicode text (RFC 8259,
section 8.2, on lone surrogates), and nesting that ends a parser's patience.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerfwright.web.api.beam import Trials
from kerfwright.web.app import make_app
from kerfwright.web.planning.plannings import Plannings
from small_workshop import SLUG, SmallWorkshop

ODD_TEXTS = (
    "",
    "\x00",
    "a\x00b",
    "\ud800",
    "\u202egvs.elit",
    "..",
    "../../secret",
    "/etc/passwd",
    "C:\\secret",
    "con",
    "x" * 5000,
    '"""\n[[items]]\n',
    "<img src=x onerror=alert(1)>",
    "1e999",
    "600x400",
    "²x٣",
    "nanxinf",
    "a" * 300 + ".svg",
)
ODD_NUMBERS = (0, -1, 2**31, 2**63, 2**70, 10**400, 1e308, 5e-324, float("inf"), float("nan"))
EXAMPLES = 60

ODD = st.one_of(
    st.sampled_from(ODD_TEXTS),
    st.sampled_from(ODD_NUMBERS),
    st.none(),
    st.booleans(),
    st.sampled_from([[], {}, [[]], {"": None}, [None] * 50]),
    st.text(max_size=30),
)
PLACES = (
    ("title",),
    ("items", 0, "drawing"),
    ("items", 0, "turns_deg"),
    ("items", 1),
    ("items", 0, "rules", 0),
    ("items", 0, "batch"),
    ("stock", 0, "width_mm"),
    ("stock", 0, "keep_out", 0),
    ("settings", "margin_mm"),
    ("settings",),
    ("machine",),
    ("materials", 0),
    ("rates",),
    ("fixture_files",),
    ("guides", 0),
)


def described(folder: Path) -> dict[str, Any]:
    document: dict[str, Any] = make_app(SmallWorkshop(folder).workshop).openapi()
    return document


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = tmp_path_factory.mktemp("outer")
    (folder / "secret").write_text("a secret", encoding="utf-8")
    made = SmallWorkshop(folder / "workshop")
    made.plan()
    with pytest.MonkeyPatch.context() as patch:
        # neither is about what is sent, and both begin processes that compute for long
        patch.setattr(Plannings, "ask", lambda self, order: self.state(order.slug))
        patch.setattr(Trials, "start", lambda _self, _order, _changes: None)
        with TestClient(make_app(made.workshop), raise_server_exceptions=False) as client:
            yield client, made


def value_of(schema: dict[str, Any], names: dict[str, Any], depth: int = 0) -> Any:
    """Draw what a schema asks for, each value sometimes another than it asks for."""
    if "$ref" in schema:
        schema = names[schema["$ref"].rsplit("/", 1)[-1]]
    fitting: Any
    options = schema.get("anyOf") or schema.get("oneOf")
    if depth > 6:
        return ODD
    if options:
        fitting = st.one_of([value_of(one, names, depth + 1) for one in options])
    elif "const" in schema or "enum" in schema:
        fitting = st.sampled_from(schema.get("enum", [schema.get("const")]))
    elif schema.get("type") == "object" and "properties" in schema:
        needed = set(schema.get("required", ()))
        made = {key: value_of(one, names, depth + 1) for key, one in schema["properties"].items()}
        fitting = st.fixed_dictionaries(
            {key: one for key, one in made.items() if key in needed},
            optional={key: one for key, one in made.items() if key not in needed},
        )
        if "at" in made and "value" in made:
            at = st.sampled_from(PLACES)
            fitting = st.fixed_dictionaries({"at": at, "value": ODD}) | fitting
    elif schema.get("type") == "array":
        one = value_of(schema.get("items", {}), names, depth + 1)
        fitting = st.lists(one, max_size=3)
    elif schema.get("type") in {"number", "integer"}:
        fitting = st.integers(-3, 3) | st.sampled_from(ODD_NUMBERS)
    elif schema.get("type") == "boolean":
        fitting = st.booleans()
    elif schema.get("type") == "string":
        fitting = st.sampled_from([SLUG, "board", "machine.toml", "materials/board.toml", "L1"])
        fitting |= st.sampled_from(ODD_TEXTS)
    else:
        fitting = ODD
    return st.one_of(*[fitting] * 9, ODD)


@st.composite
def requests(draw: st.DrawFn, document: dict[str, Any]) -> tuple[str, str, dict[str, Any]]:
    names = document["components"]["schemas"]
    ways = sorted(
        (way, path)
        for path, there in document["paths"].items()
        for way in there
        if path != "/api/events"
    )
    way, path = draw(st.sampled_from(ways))
    about = document["paths"][path][way]
    asked: dict[str, Any] = {"params": {}, "headers": {}}
    for one in about.get("parameters", ()):
        schema = one["schema"]
        if one["in"] == "path":
            text = SLUG if one["name"] == "slug" and draw(st.integers(0, 4)) else None
            text = text or str(draw(st.sampled_from([0, 1, SLUG, "plan.json", *ODD_TEXTS, -1])))
            text = quote(text.encode("utf-8", "replace"), safe="") or "%20"
            path = path.replace("{" + one["name"] + "}", text)
        elif one["in"] == "query" and draw(st.booleans()):
            value = draw(value_of(schema, names))
            asked["params"][one["name"]] = str(value).encode("utf-8", "replace").decode()
    content = about.get("requestBody", {}).get("content", {})
    if "application/json" in content:
        body = draw(value_of(content["application/json"]["schema"], names))
        asked["content"] = json.dumps(body).encode()
        asked["headers"]["content-type"] = "application/json"
    elif "multipart/form-data" in content:
        text = st.sampled_from(("board", "1", *ODD_TEXTS)).map(
            lambda one: one.encode("utf-8", "replace").decode()
        )
        contents = ("<svg/>", "", "\x89PNG", "a,b\n1,2\n", "0\nSECTION\n", "%PDF")
        sent = draw(st.sampled_from(contents))
        name = draw(text).replace("\x00", "") or "a.svg"
        asked["data"] = {
            key: draw(text) for key in ("title", "material", "machine", "due", "sheet_width_mm")
        }
        kind = draw(st.sampled_from(["files", "table"]))
        asked["files"] = [(kind, (name, sent.encode("latin-1")))]
    return way, path, asked


def outside(made: SmallWorkshop) -> dict[str, bytes]:
    above = made.folder.parent
    return {
        str(one): one.read_bytes()
        for one in above.rglob("*")
        if one.is_file() and not one.is_relative_to(made.folder)
    }


def test_whatever_is_sent_is_answered_and_stays_inside(
    shop: tuple[TestClient, SmallWorkshop], tmp_path: Path
) -> None:
    client, made = shop
    before = outside(made)
    kept = (made.order / "order.toml").read_bytes()

    @settings(max_examples=EXAMPLES, suppress_health_check=list(HealthCheck))
    @given(requests(described(tmp_path / "described")))
    def check(request: tuple[str, str, dict[str, Any]]) -> None:
        way, path, asked = request
        if not (made.order / "order.toml").is_file():  # it was removed, as it was asked to be
            made.order.mkdir(parents=True, exist_ok=True)
        (made.order / "order.toml").write_bytes(kept)
        (made.order / "tile.svg").touch()
        answer = client.request(way, path, **asked)
        assert answer.status_code < 500, (way, path, asked, answer.text)
        assert b"a secret" not in answer.content
        if answer.status_code >= 400 and answer.headers["content-type"] == "application/json":
            assert answer.json().keys() & {"code", "detail"}

    check()
    assert outside(made) == before


def nested(depth: int, open_close: str) -> bytes:
    return (open_close[0] * depth + open_close[1] * depth).encode()


@pytest.mark.parametrize(
    "value",
    [
        *(nested(depth, "[]") for depth in (50, 500, 5_000, 200_000)),
        b'{"a":' * 3_000 + b"1" + b"}" * 3_000,
        b"NaN",
        b"-Infinity",
        b"1e999",
        b"1" * 5_000,
        b'"\\ud800"',
        b'"\\u0000"',
        b'"' + b"x" * 10**5 + b'"',
        b"\xff\xfe",
        b'"\xed\xa0\x80"',
    ],
)
def test_a_value_that_is_none_changes_nothing(
    shop: tuple[TestClient, SmallWorkshop], value: bytes
) -> None:
    client, made = shop
    file = made.order / "order.toml"
    before = file.read_bytes()
    headers = {"content-type": "application/json"}
    for place in PLACES:
        body = b'{"changes":[{"at":' + json.dumps(place).encode() + b',"value":' + value + b"}]}"
        answer = client.patch(f"/api/orders/{SLUG}", content=body, headers=headers)
        assert answer.status_code < 500, (place, answer.text)
        if answer.status_code == 200:
            assert client.get(f"/api/orders/{SLUG}").status_code == 200
            assert client.get("/api/orders").status_code == 200
            file.write_bytes(before)
        assert file.read_bytes() == before


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 190_000, "a" + ".a" * 99_000 + " = 1", "[a" + ".'a'" * 40_000 + "]", "\ud800"],
    ids=["brackets", "dots", "quoted dots", "surrogate"],
)
def test_readings_that_would_end_the_parser_are_refused(
    shop: tuple[TestClient, SmallWorkshop], text: str
) -> None:
    client, made = shop
    piece = made.folder / "calibration" / "piece"
    piece.mkdir(parents=True, exist_ok=True)
    about = {"name": "piece", "kind": "kerf", "machine": "machine.toml", "made_on": "2026-05-04"}
    (piece / "made.json").write_text(json.dumps(about | {"material": ""}), encoding="utf-8")
    (piece / "readings.toml").write_text("gap_mm = 0.1\n", encoding="utf-8")
    body = json.dumps({"text": text}).encode()
    headers = {"content-type": "application/json"}
    answer = client.put("/api/calibration/piece/readings", content=body, headers=headers)
    assert answer.json()["code"] in {"calibration/not-toml", "pages/not-understood"}
    assert (piece / "readings.toml").read_text(encoding="utf-8") == "gap_mm = 0.1\n"
