"""HTML -> PDF, where the machine has what WeasyPrint needs; nothing is fetched.

The print pages are the same sheets, so a machine without Pango loses nothing but this.
"""

from functools import cache
from pathlib import PurePosixPath
from types import ModuleType
from typing import Any

from django.contrib.staticfiles import finders

# What a document's own names are resolved against; nobody is ever asked there.
OWN = "http://own.invalid/"


class NotOurs(ValueError):
    """A document named something that is no static file of ours."""


@cache
def weasyprint() -> ModuleType | None:
    """The library; None where it, or a library of the system that it needs, is not."""
    try:
        import weasyprint as found
    except (ImportError, OSError):
        return None
    return found


def pdf_of(html: str) -> bytes:
    """The document as a PDF; RuntimeError where ``weasyprint`` is None."""
    library = weasyprint()
    if library is None:
        raise RuntimeError("PDFs cannot be made on this machine.")

    class OwnFiles(library.URLFetcher):  # type: ignore[name-defined,misc]
        def fetch(self, url: str, headers: Any = None) -> Any:
            return own_file(url)

    document = library.HTML(string=html, base_url=OWN, url_fetcher=OwnFiles())
    made: bytes = document.write_pdf()
    return made


def own_file(url: str) -> Any:
    """A static file of ours by its name; NotOurs for anything else.

    No network, no ``file:`` and no ``data:``, whatever a document asks for.
    """
    name = url.removeprefix(OWN).split("?")[0].lstrip("/")
    if not url.startswith(OWN) or ".." in PurePosixPath(name).parts:
        raise NotOurs(url)
    found = finders.find(name)
    if not isinstance(found, str):
        raise NotOurs(url)
    with open(found, "rb") as file:
        content = file.read()
    library = weasyprint()
    assert library is not None  # noqa: S101 - it is what asks
    kind = "text/css" if name.endswith(".css") else "application/octet-stream"
    return library.urls.URLFetcherResponse(url, content, {"Content-Type": kind})
