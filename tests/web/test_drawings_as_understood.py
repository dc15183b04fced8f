"""An item's drawing as the pages get it: processes, parts and findings, within bounds.

What is to be in it is asked of the drawing itself (sizes and counts that its file states) and of
the plan, which must tell the same findings.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from drawn_shop import SQUARE, begun, client, drawn, sent
from fastapi.testclient import TestClient
from shapely import LineString

from kerfwright.planner import plan_order
from kerfwright.web.drawn_lines import View

FAULTY = SQUARE.replace(
    "</svg>",
    '<g id="Guides"><path fill="none" stroke="#888" d="M0 2H60"/></g>'
    '<g id="Holes"><path fill="none" stroke="#000" d="M12 8H20V20H12zM20.9 8H28V20H20.9z"/></g>'
    '<g id="Outline"><path fill="none" stroke="#000" d="M52 5h4v6h-4zM52 15h4v6h-4v-5.9"/></g>'
    '<g id="Engrave"><path d="M40 25H51V30H40z"/></g></svg>',
)
"""Two small parts that are alike, one with a gap; a weak web, a guide, a mark over the edge."""

READ_HERE = ("drawing", "repair", "parts")
"""Pages of the findings that are told before anything is placed."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("workshop")


@pytest.fixture(scope="module")
def shop(folder: Path) -> TestClient:
    return client(folder)


def test_a_square_is_where_it_is_drawn(shop: TestClient) -> None:
    found = drawn(shop, begun(shop, ("square.svg", SQUARE)))
    assert (found["width_mm"], found["height_mm"], found["view"]) == (60.0, 40.0, [60.0, 40.0])
    (line,) = found["lines"]
    assert (line["process"], line["shapes"], line["length_mm"]) == ("cut", 1, 140.0)
    numbers = [float(number) for number in re.findall(r"-?[\d.]+", line["d"])]
    assert numbers == [10.0, 5.0, 40.0, 0.0, 0.0, 30.0, -40.0, 0.0]
    (part,) = found["parts"]
    assert part["box"] == [10.0, 5.0, 50.0, 35.0]
    (group,) = found["alike"]
    assert (group["width_mm"], group["height_mm"], group["area_mm2"]) == (40.0, 30.0, 1200.0)


def test_what_lies_beside_the_page_is_seen(shop: TestClient) -> None:
    beside = SQUARE.replace("M10 5H50V35H10z", "M-10 5H50V35H-10z")
    found = drawn(shop, begun(shop, ("beside.svg", beside)))
    assert found["view"] == [70.0, 40.0]
    assert found["page"] == [10.0, 0.0, 60.0, 40.0]


def test_tells_the_findings_that_planning_tells(shop: TestClient, folder: Path) -> None:
    slug = begun(shop, ("faulty.svg", FAULTY))
    file = folder / "orders" / slug / "order.toml"
    text = file.read_text().replace("quantity = 1", 'quantity = 1\nplace = "as-drawn"')
    rule = '[[items.rules]]\nlayer = "never"\nprocess = "cut"\n'
    file.write_text(text.replace("\n# Shapes that", f"\n{rule}\n# Shapes that", 1))
    by_plan = {(one.code, one.what) for one in plan_order(file).findings if one.page in READ_HERE}
    by_pages = {(one["code"], one["what"]) for one in drawn(shop, slug)["findings"]}
    assert {code for code, _ in by_plan} >= {
        "parts/guides",
        "parts/rule-unused",
        "parts/web-weak",
        "parts/alike",
        "parts/mark-over-edge",
        "repair/gap-closed",
    }
    assert by_pages == by_plan


def test_findings_are_placed_in_the_picture(shop: TestClient) -> None:
    two = SQUARE.replace("</svg>", '<path fill="none" stroke="#000" d="M52 10H58"/></svg>')
    (finding,) = drawn(shop, begun(shop, ("two.svg", two)))["findings"]
    assert (finding["code"], finding["severity"]) == ("parts/open-outline", "stop")
    assert finding["at"] == [52.0, 10.0]


def test_parts_that_are_alike_are_told_together(shop: TestClient) -> None:
    found = drawn(shop, "regatta", 2)
    assert sorted(n for group in found["alike"] for n in group["members"]) == list(range(9))
    together = [group for group in found["alike"] if len(group["members"]) > 1]
    assert [(len(group["members"]), group["mirrored"]) for group in together] == [(2, 1), (2, 0)]


def test_what_is_known_is_not_sent_again(shop: TestClient) -> None:
    slug = begun(shop, ("square.svg", SQUARE))
    digest = drawn(shop, slug)["digest"]
    address = f"/api/orders/{slug}/items/0/drawing"
    assert shop.get(address, params={"known": digest}).status_code == 204
    shop.put(address, files=sent(("other.svg", SQUARE.replace("H50", "H40"))))
    changed = shop.get(address, params={"known": digest})
    assert changed.json()["alike"][0]["width_mm"] == 30.0


def test_how_many_and_by_when_leave_a_picture_as_it_is(shop: TestClient) -> None:
    slug = begun(shop, ("square.svg", SQUARE))
    digest = drawn(shop, slug)["digest"]
    for key, value, status in (
        ("quantity", 7, 204),
        ("due", "2026-12-24", 204),
        ("mirror", True, 200),
    ):
        change = {"at": ["items", 0, key], "value": value}
        assert shop.patch(f"/api/orders/{slug}", json={"changes": [change]}).status_code == 200
        known = shop.get(f"/api/orders/{slug}/items/0/drawing", params={"known": digest})
        assert known.status_code == status


def test_a_drawing_is_shown_before_the_shop_is_complete(shop: TestClient, folder: Path) -> None:
    slug = begun(shop, ("square.svg", SQUARE))
    file = folder / "orders" / slug / "order.toml"
    text = file.read_text()
    file.write_text(text[: text.index("[[stock]]")])
    found = drawn(shop, slug)
    assert found["checked"] is False
    assert found["trouble"]["code"] == "order/stock-missing"
    assert len(found["parts"]) == 1


def test_a_drawing_that_cannot_be_read_is_told_of(shop: TestClient) -> None:
    slug = begun(shop, ("broken.svg", "<svg xmlns='http://www.w3.org/2000/svg'><path"))
    answer = shop.get(f"/api/orders/{slug}/items/0/drawing")
    assert (answer.status_code, answer.json()["code"]) == (422, "drawing/not-xml")
    assert answer.json()["file"] == f"orders/{slug}/broken.svg"


@pytest.mark.parametrize("drawing", ["../../../secret.svg", "/etc/hostname.svg"])
def test_drawings_elsewhere_are_not_shown(shop: TestClient, folder: Path, drawing: str) -> None:
    (folder.parent / "secret.svg").write_text(SQUARE)
    slug = begun(shop, ("square.svg", SQUARE))
    change = {"at": ["items", 0, "drawing"], "value": drawing}
    refused = shop.patch(f"/api/orders/{slug}", json={"changes": [change]})
    assert refused.json()["code"] == "pages/leads-outside"
    file = folder / "orders" / slug / "order.toml"
    file.write_text(file.read_text().replace('"square.svg"', f'"{drawing}"'))
    answer = shop.get(f"/api/orders/{slug}/items/0/drawing")
    assert answer.json()["code"] == "pages/drawing-elsewhere"


def test_names_are_shown_as_they_are_and_turn_nothing_round(shop: TestClient) -> None:
    hostile = SQUARE.replace("<path", '<g id="&lt;b&gt;\u202egnp"><path id="\u202ex&lt;i&gt;"')
    found = drawn(shop, begun(shop, ("h.svg", hostile.replace("</svg>", "</g></svg>"))))
    assert found["lines"][0]["layer"] == "<b>\u202egnp"
    told = [one["what"] + one["shape"] for one in found["findings"]]
    assert not any("\u202e" in words for words in told)
    assert not any("\u202e" in part["name"] for part in found["parts"])


def test_long_lines_are_simplified_until_they_are_light() -> None:
    x = np.linspace(0.0, 1000.0, 200_000)
    line = np.column_stack([x, 300.0 + 5.0 * np.sin(7.0 * x)])
    view = View(left_mm=0.0, top_mm=600.0, width_mm=1000.0, height_mm=600.0)
    data = view.data([(1, line)], 2, most=100_000)
    assert data[0] == ""
    assert 10_000 < len(data[1]) < 110_000
    light = view.data([(0, line[:2000])], 1, most=100_000)[0]
    numbers = np.array(re.findall(r"-?[\d.]+", light), dtype=float).reshape(-1, 2)
    seen = LineString(np.cumsum(numbers, axis=0))
    asked = LineString(np.column_stack([line[:2000, 0], 600.0 - line[:2000, 1]]))
    assert seen.hausdorff_distance(asked) < 4.0 * view.step_mm
