"""The pages' HTML: one shell for all, which a module fills from the interface."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined

from kerfwright.output.help_pages import help_html
from kerfwright.web.guard import PAPERS_POLICY
from kerfwright.web.workshop import Workshop

PAGES = {
    "orders": "Orders",
    "stock": "Stock",
    "recipes": "Recipes",
    "quotes": "Quotes",
    "runs": "Runs",
    "calibration": "Calibration",
}
"""Pages of the shop as a whole, by address; the orders' list is at the root too."""


def shell_routes() -> APIRouter:
    """Return the routes of all pages."""
    router = APIRouter(default_response_class=HTMLResponse, include_in_schema=False)
    router.add_api_route("/", _orders)
    router.add_api_route("/help/{page}", _help)
    router.add_api_route("/orders/{slug}", _order)
    for name in PAGES:
        router.add_api_route(f"/{name}", _page_of(name), name=name)
    return router


def _orders() -> str:
    return _shell("orders", PAGES["orders"])


def _page_of(name: str) -> Callable[[], str]:
    def page() -> str:
        return _shell(name, PAGES[name])

    return page


def _order(request: Request, slug: str) -> str:
    workshop: Workshop = request.app.state.workshop
    return _shell("order", "Order", order=workshop.order(slug).slug)


def _help(page: str) -> HTMLResponse:
    headers = {"content-security-policy": PAPERS_POLICY}
    return HTMLResponse(help_html(page.removesuffix(".html")), headers=headers)


def _shell(module: str, title: str, order: str = "") -> str:
    template = _environment().get_template("shell.html")
    return template.render(module=module, title=title, order=order, pages=PAGES)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("kerfwright.web", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
