"""The report on paper: one PDF by the optional WeasyPrint, which needs the system's Pango."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import importlib
import importlib.util
import io
import os
import warnings
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from PIL import ImageFile

from audit.errors import AuditError
from audit.report.language import ENGLISH, Language
from audit.report.pdf_view import paper
from audit.report.templating import environment, templates_folder
from audit.report.view import Page
from audit.result import Result

PDF = "report.pdf"
NO_PACKAGE = '--pdf: the package weasyprint is missing; get it with: pip install "cornerstop[pdf]"'
NO_PANGO = (
    "--pdf: the system's Pango library is missing; install it: Debian and Ubuntu: libpango-1.0-0 "
    "libpangoft2-1.0-0 libharfbuzz-subset0; Fedora: pango; macOS: brew install pango"
)
EARLIEST = 946_684_800
"""2000-01-01: a SOURCE_DATE_EPOCH before it is no date of a report."""


def require() -> Any:
    """WeasyPrint itself; an AuditError of one line where it or the library it needs is missing."""
    if importlib.util.find_spec("weasyprint") is None:
        raise AuditError(NO_PACKAGE)
    try:
        # It prints a page of advice where a library is missing; ours is one line.
        with contextlib.redirect_stdout(io.StringIO()), warnings.catch_warnings(), _damage_told():
            warnings.simplefilter("ignore")
            return importlib.import_module("weasyprint")
    except OSError as error:  # what cffi raises for a library that cannot be loaded
        raise AuditError(NO_PANGO) from error
    except ImportError as error:
        raise AuditError(f"{NO_PACKAGE} ({error})") from error


@contextlib.contextmanager
def _damage_told() -> Iterator[None]:
    """WeasyPrint makes Pillow fill up what damaged pictures lack, in the whole program; a scan must not."""
    before = ImageFile.LOAD_TRUNCATED_IMAGES
    try:
        yield
    finally:
        ImageFile.LOAD_TRUNCATED_IMAGES = before


def pdf_bytes(
    result: Result,
    shown: Page,
    folder: Path,
    *,
    places: Mapping[str, str] | None = None,
    language: Language = ENGLISH,
) -> bytes:
    """The PDF; the same records, package versions and fonts give the same bytes.

    `folder` is that of the pages, whose pictures the PDF takes; `places` are the pages on which anchors lie,
    None where report.html is the whole report.
    """
    engine = require()
    words = html(result, shown, folder, places, language)
    document = engine.HTML(string=words, url_fetcher=_only_data())
    style = (templates_folder() / "style" / "pdf.css").read_text(encoding="utf-8")
    made: bytes = document.write_pdf(
        stylesheets=[engine.CSS(string=style)],
        pdf_identifier=hashlib.sha256(words.encode("utf-8")).digest()[:16],
        pdf_tags=True,
    )
    return made


def html(
    result: Result,
    shown: Page,
    folder: Path,
    places: Mapping[str, str] | None = None,
    language: Language = ENGLISH,
) -> str:
    """The text that is set; pictures lie within it, so that nothing outside it is ever opened."""
    view = paper(result, shown, places)
    env = environment(language=language)
    env.filters["within"] = _within(folder)
    return env.get_template("pages/pdf.html").render(page=shown, paper=view, dated=_dated())


def _within(folder: Path) -> Callable[[str], str]:
    """From a picture's address in a page to the picture itself."""

    def within(uri: str) -> str:
        if uri.startswith("data:"):
            return uri
        jpeg = base64.b64encode((folder / uri).read_bytes()).decode("ascii")
        return f"data:image/jpeg;base64,{jpeg}"

    return within


def _only_data() -> Any:
    """What WeasyPrint may open: data: addresses, no file and no network."""
    urls = importlib.import_module("weasyprint.urls")
    if hasattr(urls, "URLFetcher"):  # from version 68
        return urls.URLFetcher(allowed_protocols=("data",))

    def fetch_data(url: str, *more: Any, **named: Any) -> Any:
        if not url.startswith("data:"):
            raise ValueError("only what lies within the page is opened")
        return urls.default_url_fetcher(url, *more, **named)

    return fetch_data


def _dated() -> str:
    """SOURCE_DATE_EPOCH as the PDF's date, "" without it: no clock is looked at."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not epoch.isascii() or not epoch.isdigit() or len(epoch) > 11 or int(epoch) < EARLIEST:
        return ""
    return datetime.fromtimestamp(int(epoch), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
