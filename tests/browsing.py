"""A real browser for tests: the machine's own Chromium, by its path."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

FLAGS = ("--no-sandbox", "--no-first-run", "--disable-background-networking")
SOFT_3D = ("--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
"""Drawing in three dimensions without a graphics card."""

WIDE, NARROW = (1600, 1000), (390, 844)
WAIT_MS = 40_000


def chromium_path() -> str:
    """Return where Chromium is; without one a test fails in CI and is reported as skipped here."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        stop = pytest.fail if os.environ.get("CI") else pytest.skip
        stop("there is no Chromium on this machine")
    return path


@contextmanager
def chromium(*flags: str) -> Iterator[Browser]:
    """Run Chromium without a window."""
    path = chromium_path()
    expect.set_options(timeout=WAIT_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=[*FLAGS, *flags])
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def another(browser: Browser, *flags: str) -> Iterator[Browser]:
    """Run a second Chromium with other flags beside one that runs."""
    kind = browser.browser_type
    second = kind.launch(executable_path=chromium_path(), args=[*FLAGS, *flags])
    try:
        yield second
    finally:
        second.close()


@contextmanager
def visit(browser: Browser, url: str, size: tuple[int, int] = WIDE, **more: Any) -> Iterator[Page]:
    """Open a page in a context of its own; an error in its scripts fails the test."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
    errors: list[str] = []
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(url)
    try:
        yield page
        assert errors == [], errors
    finally:
        context.close()
