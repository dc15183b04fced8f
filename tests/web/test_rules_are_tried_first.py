"""What a rule would take is told before it is added, and is what it then takes."""

from __future__ import annotations

from typing import Any

import pytest
from drawn_shop import SQUARE, begun, client, drawn
from fastapi.testclient import TestClient

THREE = SQUARE.replace(
    "</svg>",
    '<g id="Fine [a]"><path fill="none" stroke="#c00000" d="M12 10H40"/>'
    '<path fill="none" stroke="#0000c0" d="M12 12H40"/></g>'
    '<path fill="none" stroke="#c00000" d="M12 20H40"/></svg>',
)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    return client(tmp_path_factory.mktemp("workshop"))


def preview(shop: TestClient, slug: str, rule: dict[str, Any], **more: Any) -> list[dict[str, Any]]:
    answer = shop.post(f"/api/orders/{slug}/rules/preview", json={"rule": rule, **more})
    assert answer.status_code == 200, answer.text
    told: list[dict[str, Any]] = answer.json()
    return told


def test_counts_what_a_rule_would_take(shop: TestClient) -> None:
    slug = begun(shop, ("a.svg", THREE))
    (told,) = preview(shop, slug, {"process": "score", "stroke": "#c00000"}, item=0)
    caught = told["caught"]
    assert (caught["shapes"], caught["earlier"], caught["of"]) == (2, 0, 4)
    assert caught["was"] == {"cut": 2}
    assert caught["d"].count("M") == 2


def test_a_rule_before_it_takes_its_shapes_first(shop: TestClient) -> None:
    slug = begun(shop, ("a.svg", THREE))
    rule = {"process": "guide", "layer": "fine*"}
    change = {"at": ["items", 0, "rules", 0], "value": rule}
    shop.patch(f"/api/orders/{slug}", json={"changes": [change]})
    red = {"process": "score", "stroke": "#c00000"}
    after = preview(shop, slug, red, item=0)[0]["caught"]
    before = preview(shop, slug, red, item=0, place=0)[0]["caught"]
    assert (after["shapes"], after["earlier"]) == (1, 1)
    assert (before["shapes"], before["earlier"], before["was"]) == (2, 0, {"guide": 1, "cut": 1})


def test_a_rule_of_the_order_is_tried_on_every_drawing(shop: TestClient) -> None:
    slug = begun(shop, ("a.svg", THREE), ("b.svg", SQUARE))
    told = preview(shop, slug, {"process": "score", "stroke": True})
    assert [(one["item"], one["caught"]["shapes"]) for one in told] == [(0, 4), (1, 1)]


def test_what_was_told_is_what_is_taken(shop: TestClient) -> None:
    slug = begun(shop, ("a.svg", THREE))
    kinds = drawn(shop, slug)["lines"]
    blue = next(one for one in kinds if one["stroke"] == "#0000c0")
    assert blue["like"]["layer"] == "Fine [[]a]"
    rule = {"process": "score", **blue["like"]}
    (told,) = preview(shop, slug, rule, item=0)
    change = {"at": ["items", 0, "rules", 0], "value": rule}
    assert shop.patch(f"/api/orders/{slug}", json={"changes": [change]}).status_code == 200
    found = drawn(shop, slug)
    scored = [one for one in found["lines"] if one["process"] == "score"]
    assert sum(one["shapes"] for one in scored) == told["caught"]["shapes"] == 1
    assert found["rules"] == [{"owner": "item", "number": 0, "shapes": 1}]


def test_a_rule_of_no_process_is_refused(shop: TestClient) -> None:
    answer = shop.post(
        "/api/orders/regatta/rules/preview", json={"rule": {"process": "etch"}, "item": 0}
    )
    assert answer.status_code == 422
