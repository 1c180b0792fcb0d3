"""The one strict loader for every YAML file: processor tables, part files, syntax habits, project files."""

from .node import Node, load, merge, nearest
from .packaged import packaged

__all__ = ["Node", "load", "merge", "nearest", "packaged"]
