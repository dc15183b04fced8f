"""Answers of the interface to whatever goes wrong: always the same form, never the user's bytes."""

from __future__ import annotations

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse

from kerfwright.errors import KerfwrightError
from kerfwright.output.text import encodable, printable
from kerfwright.web.guard import TooMuchError, TooSlowError
from kerfwright.web.telling import told

STATUS = {
    "pages/no-such-order": 404,
    "pages/nothing-there": 404,
    "ticket/help-page-missing": 404,
    "pages/busy": 409,
    "pages/changed-elsewhere": 412,
    "pages/too-large": 413,
    "pages/too-slow": 408,
}
"""Of errors that HTTP has a word for; all others are 422, "unprocessable content"."""

MOST_FAULTS = 20

LONGEST_FAULT = 300


def tell_errors(app: FastAPI) -> None:
    """Have an application tell its errors as the pages show them."""
    app.add_exception_handler(KerfwrightError, _told)
    app.add_exception_handler(OSError, _cannot)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(TooMuchError, _too_much)
    app.add_exception_handler(TooSlowError, _too_slow)
    app.add_exception_handler(Exception, _unforeseen)


def _answer(request: Request, error: KerfwrightError, status: int | None = None) -> JSONResponse:
    plain = {key: encodable(one) for key, one in told(error, request.app.state.workshop).items()}
    return JSONResponse(plain, status_code=status or STATUS.get(error.code, 422))


async def _told(request: Request, error: Exception) -> JSONResponse:
    assert isinstance(error, KerfwrightError)
    return _answer(request, error)


async def _cannot(request: Request, error: Exception) -> JSONResponse:
    """The disk is full, or a file may not be read or written."""
    assert isinstance(error, OSError)
    return _answer(
        request,
        KerfwrightError(
            "pages/cannot-write",
            file=str(error.filename or request.app.state.workshop.folder),
            thing=f"it cannot be read or written ({error.strerror or type(error).__name__}).",
            remedy="See that the folder is yours and that the disk has room. What was there "
            "before is there still.",
        ),
    )


async def _not_understood(request: Request, error: Exception) -> JSONResponse:
    """A request is not as the interface says; what it sent is not sent back."""
    assert isinstance(error, RequestValidationError)
    faults = [_fault(one) for one in error.errors()[:MOST_FAULTS]]
    return _answer(
        request,
        KerfwrightError(
            "pages/not-understood",
            file="",
            thing=_short("; ".join(faults)) or "the request cannot be understood.",
            remedy="Load the page again. Programs find every field in /api/openapi.json.",
        ),
    )


def _fault(one: dict[str, object]) -> str:
    place = one.get("loc")
    steps = [str(step) for step in place[1:]] if isinstance(place, tuple) else []
    return f"{_short(' → '.join(steps))}: {one.get('msg', 'not understood')}".removeprefix(": ")


def _short(text: str) -> str:
    text = printable(encodable(text))
    return text if len(text) <= LONGEST_FAULT else f"{text[:LONGEST_FAULT]} …"


async def _too_much(request: Request, _error: Exception) -> JSONResponse:
    thing, remedy = "that is too much at once.", "Send fewer or smaller files."
    return _answer(request, KerfwrightError("pages/too-large", file="", thing=thing, remedy=remedy))


async def _too_slow(request: Request, _error: Exception) -> JSONResponse:
    thing = "the request stopped in the middle of what it sends."
    remedy = "Try again; nothing was changed."
    return _answer(request, KerfwrightError("pages/too-slow", file="", thing=thing, remedy=remedy))


async def _unforeseen(request: Request, error: Exception) -> JSONResponse:
    """What nobody foresaw; the server writes down what exactly happened."""
    return _answer(
        request,
        KerfwrightError(
            "pages/unforeseen",
            file="",
            thing=f"something went wrong that nobody foresaw ({type(error).__name__}).",
            remedy="What exactly happened stands in the window in which the server was started.",
        ),
        500,
    )
