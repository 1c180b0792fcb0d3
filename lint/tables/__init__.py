"""The one strict loader for every YAML file: processor tables, part files, syntax habits, project files."""

from .node import Node, load, merge, nearest

__all__ = ["Node", "load", "merge", "nearest"]
