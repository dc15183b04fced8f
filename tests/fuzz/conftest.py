"""What damaged files make libraries print can be sent from one process to another."""

from __future__ import annotations

from collections.abc import Generator

import pytest


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Write out what is no character: half of a surrogate pair can be printed but not sent."""
    report = yield
    report.sections = [(name, _sendable(text)) for name, text in report.sections]
    if report.failed:
        report.longrepr = _sendable(report.longreprtext)
    return report


def _sendable(text: str) -> str:
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
