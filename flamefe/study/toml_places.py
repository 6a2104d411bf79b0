"""Where in a TOML text each key and list entry stands."""

import tomllib
from collections.abc import Iterator

import tree_sitter
import tree_sitter_toml

from flamefe.study.faults import Path

Place = tuple[int, int]
"""Line and column (in characters), both from 1."""

_DEEPEST = 60
"""Deeper nesting is not looked into; nothing in a case lies that deep."""


class Places:
    """Line and column of every key and list entry of a TOML text.

    Args:
        text: the text; where it can't be read as TOML, places may be missing.

    Example:
        >>> places = Places('title = "x"\\n[[heats]]\\nspeed_mm_s = 6\\npath_mm = [[1, 2], [3, 4]]')
        >>> places.of(("heats", 0, "path_mm", 1)), places.of(("heats", 0, "flame"))
        ((4, 20), (2, 1))
    """

    def __init__(self, text: str) -> None:
        source = text.encode("utf-8", "replace")
        self._lines = source.split(b"\n")
        self._found: dict[Path, Place] = {}
        self._counts: dict[Path, int] = {}
        parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
        for node in parser.parse(source).root_node.children:
            self._top(node)

    def of(self, path: Path) -> Place:
        """Place of a key or entry; of the table it belongs to when it isn't there itself.

        A path to nothing that stands in the text leads to line 1, column 1.
        """
        for end in range(len(path), 0, -1):
            if path[:end] in self._found:
                return self._found[path[:end]]
        return (1, 1)

    def at(self, line: int) -> Path:
        """Path of the key that begins in a line; empty when none does."""
        here = [(-place[1], len(path), path) for path, place in self._found.items()
                if place[0] == line]  # fmt: skip
        return max(here, key=lambda entry: entry[:2])[2] if here else ()

    def _top(self, node: tree_sitter.Node) -> None:
        if node.type == "pair":
            self._pair(node, (), 0)
        elif node.type in ("table", "table_array_element"):
            keys = [key for child in node.children[1:2] for key in _keys(child)]
            path: Path = ()
            for number, key in enumerate(keys, start=1):
                path = (*path, key)
                if number == len(keys) and node.type == "table_array_element":
                    self._mark(path, node)
                    self._counts[path] = self._counts.get(path, 0) + 1
                if path in self._counts:
                    path = (*path, self._counts[path] - 1)
                self._mark(path, node)
            if keys and node.type == "table":
                self._found[path] = self._place(node)  # its own header, not one that leads to it
            for child in node.children:
                if child.type == "pair":
                    self._pair(child, path, len(path))

    def _pair(self, node: tree_sitter.Node, above: Path, depth: int) -> None:
        if not node.children:
            return
        path = above
        for key in _keys(node.children[0]):
            path = (*path, key)
            self._mark(path, node)
        self._value(node.children[-1], path, depth + 1)

    def _value(self, node: tree_sitter.Node, path: Path, depth: int) -> None:
        if depth > _DEEPEST or len(path) > _DEEPEST:
            return
        if node.type == "inline_table":
            for child in node.children:
                if child.type == "pair":
                    self._pair(child, path, depth + 1)
        elif node.type == "array":
            entries = [child for child in node.children if child.is_named]
            values = [child for child in entries if child.type != "comment"]
            for number, child in enumerate(values):
                self._mark((*path, number), child)
                self._value(child, (*path, number), depth + 1)

    def _mark(self, path: Path, node: tree_sitter.Node) -> None:
        if len(path) <= _DEEPEST:
            self._found.setdefault(path, self._place(node))

    def _place(self, node: tree_sitter.Node) -> Place:
        row, column = node.start_point
        before = self._lines[row][:column] if row < len(self._lines) else b""
        return row + 1, len(before.decode("utf-8", "replace")) + 1


def _keys(node: tree_sitter.Node) -> Iterator[str]:
    """The names in a bare, quoted or dotted key."""
    waiting = [node]
    while waiting:
        here = waiting.pop()
        if here.type == "dotted_key":
            waiting += reversed(here.children)
        elif here.type == "bare_key":
            yield (here.text or b"").decode("utf-8", "replace")
        elif here.type == "quoted_key":
            text = (here.text or b"").decode("utf-8", "replace")
            try:
                yield next(iter(tomllib.loads(f"{text} = 0")))
            except (tomllib.TOMLDecodeError, StopIteration):
                yield text
