"""Stock on record: received, reserved, used and brought back; what is there is what was moved."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import box

from kerfwright.errors import KerfwrightError
from kerfwright.shop.database import Database
from kerfwright.shop.records import RunRecords
from kerfwright.shop.run_stock import SheetUse, record_with_stock
from kerfwright.shop.stock_ledger import Cause, label_order
from kerfwright.shop.stock_lots import offcut_of
from kerfwright.shop.stock_records import Stock
from recorded_runs import a_run
from stocked_sheets import CUT_OFF, DAY, HOLE, KEEPER, a_sheet, an_offcut

REGATTA = replace(KEEPER, order="Regatta", plan_sha256="ab" * 32)
LANTERN = replace(KEEPER, order="Lantern")


@pytest.fixture
def stock(database_url: str) -> Iterator[Stock]:
    database = Database(database_url)
    yield Stock(database)
    database.close()


def code_of(told: pytest.ExceptionInfo[KerfwrightError]) -> str:
    return told.value.code


def test_what_was_received_is_found_as_it_was(stock: Stock) -> None:
    sheets, piece = stock.receive([(a_sheet(), 5, None), (an_offcut(), 1, None)], KEEPER)
    assert (sheets.label, sheets.on_hand, sheets.free) == ("S-001", 5, 5)
    assert (piece.label, piece.lot) == ("E-001", an_offcut())
    assert stock.lots() == [piece, sheets]
    assert piece.lot.rings == (CUT_OFF, HOLE)
    assert sheets.lot.price_per_m2 == Decimal("20.00")


def test_labels_are_counted_on_and_never_given_twice(stock: Stock) -> None:
    stock.receive([(an_offcut(), 1, "E-013")], KEEPER)
    stock.use("E-013", 1, KEEPER)
    (added,) = stock.receive([(an_offcut(), 1, None)], KEEPER)
    assert added.label == "E-014"
    for label, code in (("e-013", "label-taken"), ("no good", "wrong-label")):
        with pytest.raises(KerfwrightError) as told:
            stock.receive([(a_sheet(), 1, None), (an_offcut(), 1, label)], KEEPER)
        assert code_of(told) == f"stock/{code}"
    assert [one.label for one in stock.lots(gone=True)] == ["E-013", "E-014"]


def test_labels_are_sorted_by_their_number() -> None:
    assert sorted(["E-1000", "S-2", "E-999", "E-2"], key=label_order) == [
        "E-2",
        "E-999",
        "E-1000",
        "S-2",
    ]


def test_every_movement_is_told_with_who_and_why(stock: Stock) -> None:
    stock.receive([(a_sheet(), 5, None)], KEEPER)
    stock.reserve({"S-001": 2}, REGATTA)
    stock.use("S-001", 1, REGATTA)
    stock.give_back("s-001", 1, replace(KEEPER, note="not cut"))
    stock.scrap("S-001", 1, KEEPER)
    stock.release("S-001", KEEPER)
    told = [(one.what, one.on_hand, one.held, one.moved_by, one.order) for one in stock.movements()]
    assert told == [
        ("received", 5, 0, "keeper", ""),
        ("reserved", 0, 2, "keeper", "Regatta"),
        ("used", -1, -1, "keeper", "Regatta"),
        ("returned", 1, 0, "keeper", ""),
        ("scrapped", -1, 0, "keeper", ""),
        ("released", 0, -1, "keeper", "Regatta"),
    ]
    assert stock.movements("S-001")[3].note == "not cut"
    assert stock.lot("S-001").on_hand == stock.lot("S-001").free == 4


def test_what_is_reserved_is_only_there_for_its_order(stock: Stock) -> None:
    stock.receive([(a_sheet(), 3, None)], KEEPER)
    stock.reserve({"S-001": 2}, REGATTA)
    assert stock.lot("S-001").free == 1
    assert stock.lot("S-001").free_for("Regatta") == 3
    for cause in (KEEPER, LANTERN):
        with pytest.raises(KerfwrightError, match="2 of them reserved \\(for Regatta\\)") as told:
            stock.use("S-001", 2, cause)
        assert code_of(told) == "stock/not-enough"
    taken, _ = stock.use("S-001", 3, REGATTA)
    assert (taken.on_hand, dict(taken.held)) == (0, {})


def test_reserving_again_is_instead_of_what_was_reserved_before(stock: Stock) -> None:
    stock.receive([(a_sheet(), 3, None), (a_sheet(), 3, None), (an_offcut(), 1, None)], KEEPER)
    stock.reserve({"S-001": 2, "E-001": 1}, REGATTA)
    stock.reserve({"S-002": 1, "S-001": 3}, REGATTA)
    assert {one.label: one.reserved for one in stock.lots()} == {
        "E-001": 0,
        "S-001": 3,
        "S-002": 1,
    }
    lines = len(stock.movements())
    stock.reserve({"S-002": 1, "S-001": 3}, REGATTA)
    assert len(stock.movements()) == lines, "nothing is to be changed"
    assert [one.label for one in stock.release_order(REGATTA)] == ["S-001", "S-002"]
    assert all(one.reserved == 0 for one in stock.lots())


def test_of_a_plan_all_is_reserved_or_nothing(stock: Stock) -> None:
    stock.receive([(a_sheet(), 3, None), (a_sheet(), 1, None)], KEEPER)
    with pytest.raises(KerfwrightError) as told:
        stock.reserve({"S-001": 2, "S-002": 2}, REGATTA)
    assert code_of(told) == "stock/not-enough"
    assert all(one.reserved == 0 for one in stock.lots())


@pytest.mark.parametrize("label", ["E-001", "S-001", "", "%"])
def test_a_label_that_nothing_has_is_told(stock: Stock, label: str) -> None:
    for _ in range(2):
        with pytest.raises(KerfwrightError) as told:
            stock.lot(label)
        assert code_of(told) == "stock/no-such-label"
        stock.receive([(a_sheet(), 1, "known")], KEEPER) if not stock.lots() else None


def test_no_more_comes_back_than_went_out(stock: Stock) -> None:
    stock.receive([(a_sheet(), 2, None), (an_offcut(), 1, None)], KEEPER)
    stock.use("S-001", 1, KEEPER)
    stock.give_back("S-001", 1, KEEPER)
    for label in ("S-001", "E-001"):
        with pytest.raises(KerfwrightError) as told:
            stock.give_back(label, 1, KEEPER)
        assert code_of(told) == "stock/more-than-went-out"


def test_what_is_left_comes_back_under_a_label_of_its_own(stock: Stock) -> None:
    stock.receive([(a_sheet(), 2, None)], KEEPER)
    rest = box(100.0, 50.0, 600.0, 400.0)
    left = offcut_of(stock.lot("S-001").lot, rest, left_on=DAY)
    taken, back = stock.use("S-001", 1, REGATTA, left)
    assert taken.on_hand == 1
    assert back is not None
    assert (back.label, back.cut_from, back.on_hand) == ("E-001", "S-001", 1)
    assert (back.lot.width_mm, back.lot.height_mm, back.lot.rings) == (500.0, 350.0, ())
    assert (back.lot.location, back.lot.price_per_m2) == ("rack 2", Decimal("20.00"))
    # an offcut that came back may go out, and come back unused, but once
    stock.use("E-001", 1, KEEPER)
    assert stock.give_back("E-001", 1, KEEPER).on_hand == 1


def test_an_offcuts_price_follows_from_what_its_sheet_cost() -> None:
    parent = a_sheet(cost=Decimal("6.00"), price_per_m2=None)  # 0.24 m²
    left = offcut_of(parent, box(0, 0, 300, 400), left_on=DAY)
    assert left.price_per_m2 == Decimal("25.00")
    assert left.worth(0.5) == Decimal("1.5")
    assert a_sheet().worth(0.5) == Decimal("4.8")


def test_a_piece_turned_on_the_bed_is_the_same_piece() -> None:
    piece = an_offcut()
    turned = piece.turned()
    assert (turned.width_mm, turned.height_mm) == (100.0, 120.0)
    assert turned.area.is_valid
    assert turned.area.area == pytest.approx(piece.area.area)
    assert box(0, 0, 100, 120).covers(turned.area)
    assert turned.turned().turned().turned() == piece


def test_a_run_takes_its_sheet_and_brings_the_offcut(database_url: str) -> None:
    records = RunRecords(database_url)
    stock = Stock(records.database)
    stock.receive([(a_sheet(), 1, None)], KEEPER)
    stock.reserve({"S-001": 1}, REGATTA)
    use = SheetUse("S-001", box(200, 0, 600, 400), (600.0, 400.0), "ab" * 32)
    (one,) = record_with_stock(records, [a_run()], [use], by="keeper")
    assert one.taken is not None
    assert one.back is not None
    assert (one.taken.on_hand, one.taken.reserved, one.back.label) == (0, 0, "E-001")
    lines = stock.movements()[-2:]
    assert [(line.what, line.run, line.sheet) for line in lines] == [
        ("used", 1, 1),
        ("returned", 1, 1),
    ]
    # what is not there any more cannot be used again: neither run nor stock is changed
    with pytest.raises(KerfwrightError) as told:
        record_with_stock(records, [a_run()], [use], by="keeper", again=True)
    assert code_of(told) == "stock/not-enough"
    assert len(records.runs()) == 1
    assert len(stock.movements()) == 4
    records.close()


def test_of_a_piece_of_another_size_nobody_knows_what_is_left(database_url: str) -> None:
    records = RunRecords(database_url)
    stock = Stock(records.database)
    stock.receive([(a_sheet(width_mm=700.0), 1, None), (a_sheet().turned(), 1, None)], KEEPER)
    rest = box(200, 0, 600, 400)
    uses = [SheetUse(label, rest, (600.0, 400.0), "ab" * 32) for label in ("S-001", "S-002")]
    done = record_with_stock(records, [a_run(), a_run(sheet=2)], uses, by="keeper", again=True)
    assert done[0].back is None
    assert done[1].back is not None
    records.close()


def test_two_who_reserve_the_last_sheet_at_once_do_not_both_get_it(database_url: str) -> None:
    """Each has a connection of its own, as programs on several computers would."""
    Stock(Database(database_url)).receive([(a_sheet(), 3, None)], KEEPER)
    got: list[str] = []

    def take(order: str) -> None:
        database = Database(database_url)
        try:
            Stock(database).reserve({"S-001": 1}, Cause("keeper", order))
            got.append(order)
        except KerfwrightError as error:
            assert error.code == "stock/not-enough"
        finally:
            database.close()

    takers = [threading.Thread(target=take, args=(f"order {n}",)) for n in range(6)]
    for taker in takers:
        taker.start()
    for taker in takers:
        taker.join()
    database = Database(database_url)
    assert len(got) == 3
    assert dict(Stock(database).lot("S-001").held) == dict.fromkeys(got, 1)
    database.close()


MOVES = st.lists(
    st.tuples(
        st.sampled_from(["receive", "reserve", "release", "use", "return", "scrap"]),
        st.integers(1, 4),
        st.sampled_from([KEEPER, REGATTA, LANTERN]),
    ),
    max_size=12,
)


@pytest.fixture(scope="module")
def kept_for_all(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stock]:
    database = Database(str(tmp_path_factory.mktemp("any") / "stock.sqlite"))
    yield Stock(database)
    database.close()


@given(moves=MOVES)
@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_is_done_the_ledger_adds_up(
    kept_for_all: Stock, moves: list[tuple[str, int, Cause]]
) -> None:
    """Against a count kept beside it: sheets on hand, and those held for each order."""
    stock = kept_for_all
    ((added),) = stock.receive([(a_sheet(), 3, None)], KEEPER)
    label, on_hand, out = added.label, 3, 0
    held = {"Regatta": 0, "Lantern": 0}
    for what, count, cause in moves:
        mine = held.get(cause.order, 0)
        may_take = on_hand - sum(held.values()) + mine
        try:
            if what == "receive":
                stock.receive_more(label, count, cause)
                on_hand += count
            elif what == "reserve" and cause.order:
                stock.reserve({label: count}, cause)
                assert count <= may_take
                held[cause.order] = count
            elif what == "release" and cause.order:
                stock.release(label, cause)
                assert mine
                held[cause.order] = 0
            elif what in ("use", "scrap"):
                (stock.use if what == "use" else stock.scrap)(label, count, cause)
                assert count <= may_take
                on_hand -= count
                out += count if what == "use" else 0
                if cause.order:
                    held[cause.order] -= min(count, mine)
            elif what == "return":
                stock.give_back(label, count, cause)
                assert count <= out
                on_hand, out = on_hand + count, out - count
        except KerfwrightError as error:
            allowed = {
                "stock/not-enough": count > may_take,
                "stock/not-reserved": not mine,
                "stock/more-than-went-out": count > out,
            }
            assert allowed[error.code], error
        there = stock.lot(label)
        assert there.on_hand == on_hand >= sum(held.values())
        assert dict(there.held) == {order: n for order, n in held.items() if n}
        assert sum(line.on_hand for line in stock.movements(label)) == on_hand
    stock.release(label, KEEPER) if any(held.values()) else None


def test_two_orders_of_one_title_do_not_share_what_is_reserved(stock: Stock) -> None:
    stock.receive([(a_sheet(), 5, None)], KEEPER)
    again = replace(REGATTA, reference="R-2")
    stock.reserve({"S-001": 2}, REGATTA)
    (lot,) = stock.reserve({"S-001": 3}, again)
    assert lot.held == {"Regatta": 2, "R-2": 3}
    assert (lot.free_for("Regatta"), lot.free_for("R-2")) == (2, 3)
    with pytest.raises(KerfwrightError) as told:
        stock.use("S-001", 3, REGATTA)
    assert code_of(told) == "stock/not-enough"
    taken, _ = stock.use("S-001", 1, again)
    assert taken.held == {"Regatta": 2, "R-2": 2}
    stock.release_order(replace(KEEPER, order="R-2"))
    assert stock.lot("S-001").held == {"Regatta": 2}
    line = stock.movements()[-1]
    assert (line.what, line.held, line.reference) == ("released", -2, "")


def test_what_is_released_for_all_names_each_order_by_title_and_reference(stock: Stock) -> None:
    stock.receive([(a_sheet(), 5, None)], KEEPER)
    stock.reserve({"S-001": 1}, REGATTA)
    stock.reserve({"S-001": 1}, replace(REGATTA, reference="R-2"))
    stock.release("S-001", KEEPER)
    told = {(line.order, line.reference) for line in stock.movements() if line.what == "released"}
    assert told == {("Regatta", ""), ("Regatta", "R-2")}
