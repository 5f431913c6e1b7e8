"""Turns a page into PDF with WeasyPrint, which sets any script the computer has a font for; optional."""

from __future__ import annotations

from pathlib import Path

from qa.errors import QaError

MISSING = (
    "PDF needs WeasyPrint and the Pango library: pip install 'dryfit[pdf]', and on Debian "
    "apt install libpango-1.0-0 libpangoft2-1.0-0; or print the HTML page from a browser"
)


def write_pdf(page: str, path: Path) -> int:
    """Write a page as PDF and give how many pages it has; fetches nothing, whatever the page names.

    QaError where WeasyPrint or Pango is not installed, or the page names something to be fetched.
    """
    try:
        from weasyprint import HTML  # type: ignore[import-untyped]
        from weasyprint.urls import FatalURLFetchingError, URLFetcher  # type: ignore[import-untyped]
    except (ImportError, OSError) as error:
        raise QaError(f"{MISSING} ({str(error).splitlines()[0][:100]})") from error
    nothing = URLFetcher(allowed_protocols=(), fail_on_errors=True)
    try:
        document = HTML(string=page, url_fetcher=nothing).render()
        document.write_pdf(path)
    except FatalURLFetchingError as error:
        raise QaError(f"{path.name}: a page must be whole in itself: {error}") from error
    return len(document.pages)
