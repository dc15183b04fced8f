"""A page whose server was ended while it planned does not go on saying that it plans."""

from __future__ import annotations

from pathlib import Path

from chromium import Opened, served
from playwright.sync_api import Browser, Route, expect

from small_workshop import SLUG, SmallWorkshop

PLANNING = {"order": SLUG, "state": "planning", "words": "Placing parts", "outcome": "none"}
PLANNING |= {"position": None, "finished": None, "findings": [], "error": None}


def test_what_the_new_server_does_not_know_of_is_said_to_be_lost(
    browser: Browser, tmp_path: Path
) -> None:
    told = []

    def first_by_the_former_server(route: Route) -> None:
        if told:
            route.continue_()
        else:
            told.append(route.request.url)
            route.fulfill(json=PLANNING)

    made = SmallWorkshop(tmp_path)
    with served(made.folder) as address:
        opened = Opened(browser, "about:blank")
        page = opened.page
        page.route(f"**/api/orders/{SLUG}/planning", first_by_the_former_server)
        page.goto(f"{address}/orders/{SLUG}")
        state = page.locator("#planning-state")
        expect(state).to_contain_text("Kerfwright ended while it was at it")
        expect(page.locator("#plan-order")).to_be_enabled()
        assert opened.complaints == []
        page.context.close()
