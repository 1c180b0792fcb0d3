"""`check` as a page: the same values, drawn; one file of HTML that needs no network and no script."""

from .page import html
from .value import Page, page_of

__all__ = ["Page", "html", "page_of"]
