"""Pages hear of everything that is told, late ones of what they missed, slow ones of the last."""

from __future__ import annotations

import asyncio

from kerfwright.web.planning.news import Event, News
from kerfwright.web.planning.states import Progress


def said(words: str, order: str = "sign") -> Event:
    return Event("progress", (order,), Progress(order=order, number=1, words=words))


def heard(news: News, first: list[Event], told: list[Event]) -> list[str]:
    """What one page hears that opens, is told something, and is let go."""

    async def listen() -> list[str]:
        line = news.listen(first)
        words = []
        for event in told:
            news.tell(event)
        async for event in line.events():
            assert isinstance(event.data, Progress)
            words.append(event.data.words)
            if len(words) == len({one.topic for one in [*first, *told]}):
                await asyncio.get_running_loop().run_in_executor(None, news.close)
        news.leave(line)
        return words

    return asyncio.run(listen())


def test_what_was_missed_comes_first() -> None:
    assert heard(News(), [said("placing")], [said("cutting", "plaque")]) == ["placing", "cutting"]


def test_of_one_thing_only_the_last_is_told_to_who_is_slow() -> None:
    many = [said(f"step {number}") for number in range(1000)]
    assert heard(News(), [], many) == ["step 999"]


def test_nobody_is_kept_waiting_once_all_are_let_go() -> None:
    news = News()
    news.close()
    assert heard(news, [], [said("too late")]) == []
