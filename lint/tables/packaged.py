"""The tool's own YAML files: read as any other the first time, then as plain data from the user's cache folder."""

from types import MappingProxyType
from typing import Final

from .. import cache
from ..errors import Place, TableError
from ..packaged import text
from .node import Node, load

_KIND: Final = "tables"


def packaged(path: str, named: str = "") -> Node:
    """The root of shared/`path`; messages name it as `named`, else as `path`. Raises TableError as `load` does."""
    written = text("shared", path)
    name = cache.key(written)
    root = _node(cache.load(_KIND, name), named or path)
    if root is None:
        root = load(written, named or path)
        cache.keep(_KIND, name, _plain(root))
    return root


_Plain = list[object]


def _plain(node: Node) -> _Plain:
    """Line, column and what stands there: a text, a list, or a mapping with the places of its keys."""
    content: object
    match node.content:
        case str(written):
            content = written
        case tuple(items):
            content = [_plain(item) for item in items]
        case entries:
            places = node.key_places
            content = {key: [places[key].line, places[key].column, _plain(entries[key])] for key in entries}
    return [node.place.line, node.place.column, content]


def _node(plain: object, path: str) -> Node | None:
    """The node that was kept; None where anything of it is none."""
    match plain:
        case [int(line), int(column), content]:
            place = Place(path, line, column)
        case _:
            return None
    if isinstance(content, str):
        return Node(place, content, TableError)
    if isinstance(content, list):
        items = [_node(item, path) for item in content]
        return None if None in items else Node(place, tuple(item for item in items if item), TableError)
    return _mapping(content, place) if isinstance(content, dict) else None


def _mapping(content: dict[str, object], place: Place) -> Node | None:
    entries: dict[str, Node] = {}
    places: dict[str, Place] = {}
    for key, entry in content.items():
        match entry:
            case [int(line), int(column), plain]:
                value = _node(plain, place.path)
            case _:
                return None
        if value is None:
            return None
        entries[key] = value
        places[key] = Place(place.path, line, column)
    return Node(place, MappingProxyType(entries), TableError, MappingProxyType(places))
