"""``kerfwright why`` tells every way that was computed, and how to have another."""

from __future__ import annotations

from kerfwright.cli import BAD_INPUT
from small_shop import SmallShop, run


def test_every_way_is_told_with_its_seconds(planned: SmallShop) -> None:
    document = planned.document()
    told = run("why", str(planned.out))
    assert told.exit_code == 0
    for decision in document["decisions"]:
        assert decision["what"] in told.stdout
        assert decision["why"] in told.stdout
        for way in decision["alternatives"]:
            assert f"{way['way']}: " in told.stdout


def test_words_choose_among_the_decisions(planned: SmallShop) -> None:
    document = planned.document()
    engraving = [d for d in document["decisions"] if d["code"] == "engraving/ways"]
    told = run("why", str(planned.out / "plan.json"), "ENGRAVING")
    assert told.exit_code == 0
    assert told.stdout.count("to overrule:") == len(engraving)


def test_what_is_not_there_is_told(planned: SmallShop) -> None:
    told = run("why", str(planned.out), "seagulls")
    assert told.exit_code == BAD_INPUT
    assert 'No decision is about "seagulls"' in told.stderr
    told = run("why", str(planned.folder))
    assert told.exit_code == BAD_INPUT
    assert "kerfwright help order/no-plan-there" in told.stderr
