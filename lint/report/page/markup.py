"""HTML and SVG from plain functions: text is escaped where it goes in, so nothing in a source can become markup."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape
from typing import Final

from ...visible import visible

_VOID: Final = frozenset({"br", "col", "link", "meta", "rect", "line", "path", "circle"})
_NAME: Final = re.compile(r"[a-zA-Z][a-zA-Z0-9-]*")


class Markup(str):
    """Text that is markup already; any other string is text of somebody's."""

    __slots__ = ()


Child = str | Iterable["Child"]


def element(tag: str, *children: Child, **attributes: str | int | float | bool | None) -> Markup:
    """An element with its children, which are escaped unless they are Markup.

    An attribute that is None or False is left out, True stands alone; `class_` is class, and an underscore a hyphen.
    """
    assert _NAME.fullmatch(tag)
    opened = "".join(_attribute(name, value) for name, value in attributes.items())
    if tag in _VOID and not children:
        return Markup(f"<{tag}{opened}/>")
    return Markup(f"<{tag}{opened}>{join(*children)}</{tag}>")


def join(*children: Child) -> Markup:
    """The children one behind the other."""
    return Markup("".join(map(_child, children)))


def text(value: str) -> Markup:
    """Text as markup: what a terminal would obey stands in words, as in every other form."""
    return Markup(escape(visible(value)))


def _child(child: Child) -> str:
    if isinstance(child, Markup):
        return child
    return text(child) if isinstance(child, str) else join(*child)


def _attribute(name: str, value: str | int | float | bool | None) -> str:
    if value is None or value is False:
        return ""
    name = name.rstrip("_").replace("_", "-")
    if value is True:
        return f' {name}=""'
    shown = f"{value:g}" if isinstance(value, float) else str(value)
    return f' {name}="{escape(visible(shown))}"'
