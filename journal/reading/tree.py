"""YAML as text with places: every scalar stays the text the builder wrote.

`hours: 2:45` must not become 165 minutes-of-sixty, `steps: [7.10]` not 7.1, `tools: [no]` not False
(YAML 1.1 does all three). So nothing is resolved here: we take the parser's events, keep the text
and its line and column, and leave typing to those who know what the key means.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import yaml

from journal.base.model import Where
from journal.reading.text import Notes

MAX_DEPTH = 20
MAX_BYTES = 2**20

_Loader: type = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scalar:
    """One piece of text; `quoted` tells whether the builder put it in quotes or a block."""

    text: str
    where: Where
    quoted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Items:
    """A list."""

    nodes: tuple[Node, ...]
    where: Where


@dataclass(frozen=True, slots=True, kw_only=True)
class Fields:
    """A mapping, keys in the order written, each once.

    `unread` are keys whose value could not be read (the reason is noted where it stands);
    `all_unread` says that nothing could be. Nobody need report them as missing.
    """

    pairs: tuple[tuple[Scalar, Node], ...]
    where: Where
    unread: frozenset[str] = frozenset()
    all_unread: bool = False

    def lost(self, key: str) -> bool:
        """Whether `key` may well be there but could not be read."""
        return self.all_unread or key in self.unread

    def get(self, key: str) -> Node | None:
        """The value under `key`, or None."""
        return next((node for name, node in self.pairs if name.text == key), None)


Node = Scalar | Items | Fields


def parse_yaml(text: str, notes: Notes, *, first_line: int = 1) -> Fields:
    """The mapping in `text`; `first_line` is the file's line where `text` begins.

    Errors noted: bad syntax, a key twice, anchors and aliases (no expansion bombs), nesting
    beyond 20, more than 1 MiB, something other than a mapping. Where one key's value cannot be
    read the others still are, so that all mistakes of a file come to light in one run.
    """
    if len(text.encode("utf-8", "replace")) > MAX_BYTES:
        notes.error((first_line, 1), "yaml-too-large", "more than 1 MiB of front matter", "shorten it")
        return Fields(pairs=(), where=(first_line, 1), all_unread=True)
    trial = Notes(notes.file)
    whole = _document(text, trial, first_line)
    pieces = [] if whole else _top_level_chunks(text)
    if len(pieces) < 2:
        notes.problems.extend(trial.problems)
        return whole or Fields(pairs=(), where=(first_line, 1), all_unread=True)
    pairs: list[Node] = []
    unread: set[str] = set()
    for offset, piece in pieces:
        fields = _document(piece, notes, first_line + offset)
        if fields is None:
            unread.add(piece.partition(":")[0].strip())
        else:
            pairs += [node for pair in fields.pairs for node in pair]
    return replace(_fields(pairs, (first_line, 1), notes), unread=frozenset(unread))


def _document(text: str, notes: Notes, first_line: int) -> Fields | None:
    """The mapping in `text`, perhaps an empty one; None, with an error, where it cannot be read."""
    at = (0, 0)
    try:
        root = _compose(text, notes, first_line)
    except _RefusedError:
        return None
    except yaml.MarkedYAMLError as trouble:
        mark = trouble.problem_mark or trouble.context_mark
        at, problem = (mark.line, mark.column) if mark else at, trouble.problem or "cannot be read"
    except yaml.reader.ReaderError as trouble:
        before = text[: trouble.position] if isinstance(trouble.position, int) else ""
        at, problem = (before.count("\n"), len(before) - before.rfind("\n") - 1), "special characters are not allowed"
    except (yaml.YAMLError, ValueError, UnicodeError, OverflowError) as trouble:
        # The C parser refuses lone surrogates and the like with bare exceptions.
        problem = str(trouble).partition("\n")[0]
    else:
        if root is None:
            return Fields(pairs=(), where=(first_line, 1))
        if isinstance(root, Fields):
            _warn_swallowed(text, root, notes, first_line)
            return root
        notes.error(root.where, "not-a-mapping", "this should be lines of `key: value`")
        return Fields(pairs=(), where=(first_line, 1), all_unread=True)
    _note_broken(at, problem, text.split("\n"), first_line, notes)
    return None


class _RefusedError(Exception):
    """Something that is not read here; what it is has been noted."""


def _compose(text: str, notes: Notes, first_line: int) -> Node | None:
    """Build the tree from parser events on a stack of our own: depth is bounded before it grows."""
    stack: list[tuple[str, Where, list[Node]]] = []
    root: Node | None = None
    documents = 0
    for event in yaml.parse(text, Loader=_Loader):
        mark = event.start_mark
        where = (mark.line + first_line, mark.column + 1) if mark else (first_line, 1)
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                notes.error(where, "yaml-second-document", "a second document begins here", "take out the `---`")
                raise _RefusedError
            continue
        if anchor := getattr(event, "anchor", None):
            notes.error(
                where,
                "yaml-anchor",
                f"anchors and aliases (&{anchor}, *{anchor}) are not read here",
                "write the value out, or put it in quotes",
            )
            raise _RefusedError
        node: Node | None = None
        if isinstance(event, yaml.ScalarEvent):
            node = Scalar(text=event.value, where=where, quoted=event.style not in (None, ""))
        elif isinstance(event, (yaml.SequenceStartEvent, yaml.MappingStartEvent)):
            if len(stack) >= MAX_DEPTH:
                notes.error(where, "yaml-too-deep", f"nested deeper than {MAX_DEPTH}", "flatten it")
                raise _RefusedError
            kind = "items" if isinstance(event, yaml.SequenceStartEvent) else "fields"
            stack.append((kind, where, []))
        elif isinstance(event, yaml.SequenceEndEvent):
            _, opened, nodes = stack.pop()
            node = Items(nodes=tuple(nodes), where=opened)
        elif isinstance(event, yaml.MappingEndEvent):
            _, opened, nodes = stack.pop()
            node = _fields(nodes, opened, notes)
        if node is not None:
            if stack:
                stack[-1][2].append(node)
            else:
                root = node
    return root


def _fields(nodes: list[Node], where: Where, notes: Notes) -> Fields:
    pairs: list[tuple[Scalar, Node]] = []
    seen: dict[str, Where] = {}
    for key, value in zip(nodes[::2], nodes[1::2], strict=True):
        if not isinstance(key, Scalar):
            notes.error(key.where, "yaml-key", "a key must be plain text", "put quotes around the value")
            continue
        if key.text in seen:
            notes.error(
                key.where,
                "key-twice",
                f'"{key.text}" is given twice (first on line {seen[key.text][0]})',
                "keep one of them",
            )
            continue
        seen[key.text] = key.where
        pairs.append((key, value))
    return Fields(pairs=tuple(pairs), where=where)


_TOP_LEVEL = re.compile(r"^[^\s#\-].*?:(\s|$)")


def _top_level_chunks(text: str) -> list[tuple[int, str]]:
    """(line offset, text) of each top-level `key:` with the lines that belong to it."""
    lines = text.split("\n")
    starts = [number for number, line in enumerate(lines) if _TOP_LEVEL.match(line)]
    if not starts or any(line.strip() and not line.startswith("#") for line in lines[: starts[0]]):
        starts.insert(0, 0)
    return [(start, "\n".join(lines[start:end])) for start, end in zip(starts, [*starts[1:], len(lines)], strict=True)]


def _note_broken(at: tuple[int, int], problem: str, lines: list[str], first_line: int, notes: Notes) -> None:
    """Say why the parser gave up at (line, column), both from 0 within `lines`."""
    line = lines[at[0]] if at[0] < len(lines) else ""
    where = (at[0] + first_line, at[1] + 1)
    key = re.match(r"\s*(?:- )?([^:#]+?):\s", line)
    if "\t" in line[: len(line) - len(line.lstrip())] or line[at[1] : at[1] + 1] == "\t":
        said = "yaml-tab", "a tab stands where spaces belong", "use spaces to indent"
    elif (hash_line := _last_tight_hash(lines, at[0])) is not None:
        column = lines[hash_line].index("#") + 1
        where = (hash_line + first_line, column)
        lost = f'"{lines[hash_line][column - 1 :].strip()}" is taken for a comment and lost'
        said = "yaml-hash", lost, "put text that holds # in quotes"
    elif "mapping values are not allowed" in problem:
        text = line[key.end() if key else 0 :].strip()
        mend = f'put it in quotes: {key[1].strip() + ": " if key else ""}"{text}"'
        said = "yaml-colon", "a colon and a space inside the text cut it in two", mend
    elif problem in ("special characters are not allowed", "control characters are not allowed"):
        said = "yaml-character", "a control character stands here", "take it out"
    else:
        hint = "check quotes, brackets and indentation; text with : # [ { @ ` or % goes in quotes"
        said = "yaml-syntax", f"cannot be read: {problem}", hint
    notes.error(where, *said)


def _last_tight_hash(lines: list[str], last: int) -> int | None:
    """The nearest line up to `last` where `#40` or the like begins a comment: it cut a list short."""
    upwards = range(min(last, len(lines) - 1), -1, -1)
    return next((number for number in upwards if re.search(r"[\s,\[]#\S", lines[number])), None)


def _scalars(node: Node, key: str = "") -> Iterator[tuple[str, Scalar]]:
    """(top-level key, scalar) for every value in the tree."""
    match node:
        case Scalar():
            yield key, node
        case Items():
            for item in node.nodes:
                yield from _scalars(item, key)
        case Fields():
            for name, value in node.pairs:
                yield from _scalars(value, key or name.text)


FREE_TEXT = frozenset(
    {"title", "photos", "tools", "methods", "answers", "stage", "findings"}
    | {"aircraft", "people", "places", "assemblies"}
)
"""Keys whose values are the builder's own words, where ` #` is more likely text than a comment."""


def _warn_swallowed(text: str, fields: Fields, notes: Notes, first_line: int) -> None:
    """` #` begins a comment in YAML: `- #40 drill` is an empty item. Nothing is lost in silence.

    Reported: any ` #` after unquoted free text in an entry, `#40` after free text elsewhere, and `#40`
    where a value is missing. `# like this` behind a date or a number is a comment.
    """
    lines = text.split("\n")
    for key, scalar in _scalars(fields):
        if scalar.quoted:
            continue
        index = scalar.where[0] - first_line
        if not 0 <= index < len(lines):
            continue
        line = lines[index]
        rest = line[scalar.where[1] - 1 :]
        if scalar.text and not rest.startswith(scalar.text.split("\n")[0][:1]):
            continue
        tail = rest[len(scalar.text) :] if rest.startswith(scalar.text) else ""
        if not scalar.text:
            # An empty value is marked where the parser stopped looking; look back over the line.
            tail = rest if "#" in rest else ""
        mark = re.match(r"\s*#(.*)$" if not scalar.text else r",?\s+#(.*)$", tail)
        if mark is None:
            continue
        tight = bool(mark[1]) and not mark[1][0].isspace()
        swallowed = key in FREE_TEXT and mark[1].strip() and (tight or notes.file.endswith("index.md"))
        if swallowed or (tight and not scalar.text):
            column = line.rindex("#" + mark[1]) + 1
            whole = f"{scalar.text} #{mark[1]}".strip()
            notes.error(
                (scalar.where[0], column),
                "yaml-hash",
                f'"#{mark[1].strip()}" is taken for a comment and lost',
                f'put the text in quotes: "{whole}"',
            )
