"""``kerfwright quote``: an order priced, on paper and beside other ways. Rates are invented."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path

import pypdfium2
import pytest

from small_shop import SmallShop, run, svg

RATES = """\
shop = "Quay workshop"
address = ["Old Quay 3"]
currency = "EUR"
locale = "en_IE"
machine_per_hour = 30.00
labour_per_hour = 36.00
part_minutes = 0.5
tax = 0.20
invented = true

[[sheets]]
material = "board"
price_per_m2 = 20.00
"""


@pytest.fixture
def shop(tmp_path: Path) -> SmallShop:
    made = SmallShop(tmp_path)
    made.write("rates.toml", RATES)
    made.change(
        "order.toml", 'machine = "machine.toml"', 'rates = "rates.toml"\nmachine = "machine.toml"'
    )
    return made


def priced(shop: SmallShop, *words: object) -> dict[str, object]:
    ran = run("quote", shop.order_file, "--json", *words)
    assert ran.exit_code == 0, ran.stderr
    document: dict[str, object] = json.loads(ran.stdout)
    return document


def test_price_follows_the_planned_time_and_sheet(shop: SmallShop) -> None:
    quote = priced(shop)["quote"]
    assert isinstance(quote, dict)
    planned = shop.planned()
    amounts = {line["what"]: Decimal(line["amount"]) for line in quote["costs"]}
    assert amounts["board, offcut"] == Decimal("0.24")  # 120 × 100 mm at 20 a m²
    hours = Decimal(str(planned["totals"]["time_s"])) / 3600
    assert abs(amounts["machine"] - 30 * hours) <= Decimal("0.005")
    assert quote["beam_s"] == pytest.approx(planned["totals"]["time_s"], abs=0.01)
    assert Decimal(quote["total"]) == Decimal(quote["net"]) + Decimal(quote["tax"]["amount"])


def test_customer_s_papers_do_not_show_the_shop_s_costs(shop: SmallShop) -> None:
    ran = run("quote", shop.order_file, "--out", shop.out)
    assert ran.exit_code == 0, ran.stderr
    document = json.loads((shop.out / "quote.json").read_text(encoding="utf-8"))["quote"]
    words = {
        name: (shop.out / name).read_text("utf-8") for name in ("quote.html", "reckoning.html")
    }
    with pypdfium2.PdfDocument(shop.out / "quote.pdf") as pdf:
        paper = pdf[0].get_textpage().get_text_bounded()
    for text in (*words.values(), paper):
        assert f"€{document['total']}" in text
        assert "Quay workshop" in text
        assert "Invented" in text
    assert "an hour" in words["reckoning.html"]
    assert "an hour" not in words["quote.html"]
    assert "an hour" not in paper


def test_fonts_are_embedded(shop: SmallShop) -> None:
    run("quote", shop.order_file, "--out", shop.out)
    pdf = (shop.out / "quote.pdf").read_bytes()
    assert pdf.count(b"/FontFile2") == pdf.count(b"/FontDescriptor ") > 0


def test_names_are_escaped_on_pages(shop: SmallShop) -> None:
    shop.change("order.toml", 'title = "Small order"', 'title = "<script>x</script> & Łódź"')
    ran = run("quote", shop.order_file, "--out", shop.out)
    assert ran.exit_code == 0, ran.stderr
    assert "<script>x" not in (shop.out / "quote.html").read_text("utf-8")
    with pypdfium2.PdfDocument(shop.out / "quote.pdf") as pdf:
        assert "<script>x</script> & Łódź" in pdf[0].get_textpage().get_text_bounded()


def test_more_of_everything_is_planned_anew(shop: SmallShop) -> None:
    shop.change("order.toml", "count = 1", "count = 3")
    document = priced(shop, "--times", "3,9")
    once = document["quote"]
    three, nine = document["variants"]  # type: ignore[misc]
    assert isinstance(once, dict)
    assert three["variant"] == "3 × everything"
    assert three["quote"]["items"][0]["pieces"] == 3
    assert three["quote"]["beam_s"] > 2 * once["beam_s"]
    assert nine["quote"]["sheets"] < 9  # sheets fill better in number


def test_what_the_stock_cannot_give_is_said(shop: SmallShop) -> None:
    document = priced(shop, "--times", "40")
    (forty,) = document["variants"]  # type: ignore[misc]
    assert forty["quote"] is None
    assert "full before all parts have a place" in forty["why_not"]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--times", "2,x"), "rates/times-unclear"),
        (("--material", "bord"), "rates/material-unknown"),
    ],
)
def test_unclear_wishes_are_refused(shop: SmallShop, words: tuple[str, str], code: str) -> None:
    ran = run("quote", shop.order_file, *words)
    assert ran.exit_code == 2
    assert f"kerfwright help {code}" in ran.stderr


def test_a_language_may_be_written_with_a_hyphen(shop: SmallShop) -> None:
    shop.change("rates.toml", '"en_IE"', '"de-DE"')  # as RFC 5646 has it
    ran = run("quote", shop.order_file)
    assert ran.exit_code == 0, ran.stderr
    assert "0,24\N{NO-BREAK SPACE}€" in ran.stdout


def test_amounts_are_whole_where_the_papers_font_lacks_letters(shop: SmallShop) -> None:
    shop.change("rates.toml", '"en_IE"', '"ja_JP"')
    shop.change("rates.toml", '"EUR"', '"JPY"')
    shop.change("rates.toml", "Old Quay 3", "\N{CJK UNIFIED IDEOGRAPH-6E2F} 3")
    ran = run("quote", shop.order_file, "--out", shop.out)
    assert ran.exit_code == 0, ran.stderr
    assert "\N{CJK UNIFIED IDEOGRAPH-6E2F}. Print quote.html" in ran.stderr
    total = json.loads((shop.out / "quote.json").read_text(encoding="utf-8"))["quote"]["total"]
    with pypdfium2.PdfDocument(shop.out / "quote.pdf") as pdf:
        assert f"JPY {total}" in pdf[0].get_textpage().get_text_bounded()


def test_once_everything_is_the_order_itself(shop: SmallShop) -> None:
    assert priced(shop, "--times", "1")["variants"] == []


def test_an_order_without_rates_has_no_price(tmp_path: Path) -> None:
    ran = run("quote", SmallShop(tmp_path).order_file)
    assert ran.exit_code == 2
    assert "kerfwright help rates/none-named" in ran.stderr


@pytest.mark.parametrize(
    ("old", "new", "code", "said"),
    [
        ("tax = 0.20", "tax = 20", "rates/out-of-range", "1 or less"),
        ('currency = "EUR"', 'currency = "Euro"', "rates/wrong-type", "ISO 4217"),
        ('locale = "en_IE"', 'locale = "xx_YY"', "rates/wrong-type", "a language"),
        (
            "machine_per_hour = 30.00",
            'machine_per_hour = "30"',
            "rates/wrong-type",
            "without quotes",
        ),
        ("machine_per_hour = 30.00", "machine_per_our = 30", "rates/", "machine_per_hour"),
        (
            "machine_per_hour = 30.00",
            "machine_per_hour = 30.12345678",
            "rates/wrong-type",
            "no more than 6 digits behind the point",
        ),
        (
            "machine_per_hour = 30.00",
            "machine_per_hour = 1e30",
            "rates/wrong-type",
            "no more than 15 digits",
        ),
        (
            "[[sheets]]",
            '[[sheets]]\nmaterial = "board"\nprice_per_m2 = 2\n\n[[sheets]]',
            "rates/price-twice",
            'is "board", as in sheets[1]',
        ),
        (
            "[[sheets]]",
            "[[breaks]]\npieces = 5\ndiscount = 0.1\n" * 2 + "[[sheets]]",
            "rates/price-twice",
            "is 5, as in breaks[1]",
        ),
    ],
)
def test_slips_in_the_rates_are_named(
    shop: SmallShop, old: str, new: str, code: str, said: str
) -> None:
    shop.change("rates.toml", old, new)
    ran = run("quote", shop.order_file)
    assert ran.exit_code == 2
    assert code in ran.stderr
    assert said in ran.stderr


@pytest.fixture
def no_planning(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        pytest.fail("it was planned")

    for module in ("kerfwright.planner", "kerfwright.quotation"):
        monkeypatch.setattr(f"{module}.plan_shop", refuse)


@pytest.mark.usefixtures("no_planning")
def test_a_material_without_a_price_is_refused_before_anything_is_planned(shop: SmallShop) -> None:
    shop.change("rates.toml", 'material = "board"', 'material = "boards"')
    ran = run("quote", shop.order_file)
    assert ran.exit_code == 2
    assert '"board" has no price' in ran.stderr
    assert "rates/material-without-price" in ran.stderr
    assert "Placing" not in ran.stderr


@pytest.mark.parametrize(
    ("file", "old", "by"),
    [
        ("order.toml", 'name = "offcut"', 'name = "offcut"\ncost = "1.10"'),
        ("order.toml", 'drawing = "tile.svg"', 'drawing = "marks.svg"\nblank = true'),
    ],
)
def test_sheets_with_a_price_of_their_own_and_blanks_need_none_in_the_rates(
    shop: SmallShop, file: str, old: str, by: str
) -> None:
    shop.change("rates.toml", 'material = "board"', 'material = "cork"')
    shop.write("marks.svg", svg('<g id="Engrave"><rect x="18" y="8" width="14" height="9"/></g>'))
    shop.change(file, old, by)
    assert priced(shop)["quote"]
