"""YAML as text with places: every scalar stays the text the builder wrote.

`hours: 2:45` must not become 165 minutes-of-sixty, `steps: [7.10]` not 7.1, `tools: [no]` not False
(YAML 1.1 does all three). So nothing is resolved here: we take the parser's events, keep the text
and its line and column, and leave typing to those who know what the key means.
"""

from __future__ import annotations

import re
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
        root, tokens = _compose(text, notes, first_line)
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
            _note_lost(text, tokens, notes, first_line)
            return root
        notes.error(root.where, "not-a-mapping", "this should be lines of `key: value`")
        return Fields(pairs=(), where=(first_line, 1), all_unread=True)
    _note_broken(at, problem, text.split("\n"), first_line, notes)
    return None


class _RefusedError(Exception):
    """Something that is not read here; what it is has been noted."""


@dataclass(slots=True)
class _Token:
    """A piece of text where it stands: offsets into the YAML, the keys over it (outermost first; a key is the last of
    its own), and for a key whether one text stands under it.
    """

    start: int
    end: int
    style: str | None
    keys: tuple[str, ...]
    is_key: bool
    is_item: bool
    indent: int
    """How far in the key over it, or its list, begins."""
    takes_text: bool = True


@dataclass(slots=True)
class _Open:
    """A list or mapping that is being read; `keys` as of a token in it."""

    mapping: bool
    where: Where
    keys: tuple[str, ...]
    nodes: list[Node]
    key: _Token | None = None
    indent: int = 0

    @property
    def at_key(self) -> bool:
        return self.mapping and len(self.nodes) % 2 == 0

    @property
    def inside(self) -> tuple[str, ...]:
        """The keys over what comes next."""
        return (*self.keys, self.nodes[-1].text) if self.mapping and isinstance(self.nodes[-1], Scalar) else self.keys


def _compose(text: str, notes: Notes, first_line: int) -> tuple[Node | None, list[_Token]]:
    """The tree from parser events, on a stack of our own (depth is bounded before it grows), and every text in it."""
    stack: list[_Open] = []
    tokens: list[_Token] = []
    root: Node | None = None
    documents = 0
    for event in yaml.parse(text, Loader=_Loader):
        mark = event.start_mark or yaml.Mark("", 0, 0, 0, None, 0)
        where = (mark.line + first_line, mark.column + 1)
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                notes.error(where, "yaml-second-document", "a second document begins here", "take out the `---`")
                raise _RefusedError
            continue
        anchor, tag = getattr(event, "anchor", None), getattr(event, "tag", None)
        if anchor or tag is not None:
            said = f"a text that begins with {'& or *' if anchor else '!'} is not read here"
            mend = _quoted_rest(text, mark.index)
            notes.error(where, "yaml-anchor" if anchor else "yaml-tag", said, "put it in quotes", mend)
            raise _RefusedError
        above = stack[-1] if stack else None
        node: Node | None = None
        if isinstance(event, yaml.ScalarEvent):
            node = Scalar(text=event.value, where=where, quoted=event.style not in (None, ""))
            if above and event.end_mark and event.end_mark.index > mark.index:
                keys = (*above.keys, event.value) if above.at_key else above.inside
                above.indent = mark.column if above.at_key else above.indent
                place = (mark.index, event.end_mark.index, event.style or None)
                token = _Token(*place, keys, above.at_key, not above.mapping, above.indent)
                tokens.append(token)
                above.key = token if above.at_key else above.key
        elif isinstance(event, (yaml.SequenceStartEvent, yaml.MappingStartEvent)):
            if len(stack) >= MAX_DEPTH:
                notes.error(where, "yaml-too-deep", f"nested deeper than {MAX_DEPTH}", "flatten it")
                raise _RefusedError
            if above and above.key:
                above.key.takes_text = False
            keys = above.inside if above and not above.at_key else ()
            mapping = isinstance(event, yaml.MappingStartEvent)
            stack.append(_Open(mapping, where, keys, [], indent=mark.column))
        elif isinstance(event, yaml.SequenceEndEvent):
            done = stack.pop()
            node = Items(nodes=tuple(done.nodes), where=done.where)
        elif isinstance(event, yaml.MappingEndEvent):
            done = stack.pop()
            node = _fields(done.nodes, done.where, notes)
        if node is not None:
            if stack:
                stack[-1].nodes.append(node)
            else:
                root = node
    return root, tokens


def quoted(text: str, key: str = "") -> str:
    """`text` in the quotes that it does not hold itself; those that stand around the whole of it are not part of it.
    What stands behind a `key` for names becomes a list, each in quotes: in one pair of quotes it would be one name.
    """
    if key in ("tools", "methods") and re.search(r"[,;] ", text):
        return f"[{', '.join(quoted(name) for name in re.split(r'[,;] +', text))}]"
    if len(text) > 1 and text[0] == text[-1] and text[0] in "'\"":
        text = text[1:-1]
    return "'" + text.replace("'", "''") + "'" if '"' in text or "\\" in text else f'"{text}"'


def _quoted_rest(text: str, start: int) -> tuple[str, str] | None:
    """The mend that puts quotes around the value that begins at `start`: to the end of its line; None in brackets."""
    line = text[start:].partition("\n")[0].strip()
    before = text[text.rfind("\n", 0, start) + 1 : start]
    return None if re.search(r"[\[{]", before) else (line, quoted(line, before.partition(":")[0]))


def _fields(nodes: list[Node], where: Where, notes: Notes) -> Fields:
    pairs: list[tuple[Scalar, Node]] = []
    seen: dict[str, Where] = {}
    for key, value in zip(nodes[::2], nodes[1::2], strict=True):
        if not isinstance(key, Scalar):
            notes.error(key.where, "yaml-key", "a key must be plain text", "put quotes around the value")
            continue
        if key.text in seen:
            said = f'"{key.text}" is given twice (first on line {seen[key.text][0]})'
            notes.error(key.where, "key-twice", said, "keep one of them")
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


_PLAIN_WORDS = (
    ("expected ',' or", "a list or a brace that was opened is not closed", "close it with ] or }"),
    ("end of stream", "a quotation mark that was opened is not closed", "close it, or take it out"),
    ("expected ':'", "this line has no colon", "write each line as `key: value`"),
    ("did not find expected", "this line does not fit those above it", "let it begin in the same column as they do"),
    ("not allowed in this context", "a list cannot begin in the middle of a line", "write each `- …` on its own line"),
)
"""What the parser says, what that means, and what to do."""


def _note_broken(at: tuple[int, int], problem: str, lines: list[str], first_line: int, notes: Notes) -> None:
    """Say why the parser gave up at (line, column), both from 0 within `lines`."""
    line = lines[at[0]] if at[0] < len(lines) else ""
    where = (at[0] + first_line, at[1] + 1)
    key = re.match(r"\s*(?:- )?(?:([^:#\[{]+?):\s+)?", line)
    value = line[key.end() if key else 0 :].strip()
    name = key[1].strip() if key and key[1] else ""
    mend = (value, quoted(value, name)) if value and value[0] not in "[{|>" else None
    in_quotes = f"put it in quotes: {name + ': ' if name else ''}{mend[1]}" if mend else "put the text in quotes"
    if _KEEPS_BACK.search(value):
        in_quotes, mend = _HOW_TO_KEEP_BACK, None
    if "\t" in line[: len(line) - len(line.lstrip())] or line[at[1] : at[1] + 1] == "\t":
        notes.error(where, "yaml-tab", "a tab stands where spaces belong", "use spaces to indent")
    elif (hash_line := _last_tight_hash(lines, at[0])) is not None:
        column = lines[hash_line].index("#") + 1
        lost = _lost(lines[hash_line][column - 1 :].strip())
        notes.error((hash_line + first_line, column), "yaml-hash", lost, "put text that holds # in quotes")
    elif "mapping values are not allowed" in problem:
        said = "a colon and a space inside the text cut it in two"
        notes.error(where, "yaml-colon", said, in_quotes, mend)
    elif problem in ("special characters are not allowed", "control characters are not allowed"):
        notes.error(where, "yaml-character", "a control character stands here", "take it out")
    elif "escape" in problem or "hexdecimal" in problem:
        mend = (value, quoted(value)) if value[:1] == value[-1:] == '"' and "\\" in value else None
        notes.error(where, "yaml-escape", *_ESCAPE, mend)
    elif re.match(r"[\"'@`%*&!?]", value) and "end of stream" not in problem:
        said = f"text that begins with {value[0]} is cut off or cannot be read"
        notes.error(where, "yaml-syntax", said, in_quotes, mend)
    else:
        otherwise = ("cannot be read from here on", "check quotes, brackets and indentation")
        notes.error(where, "yaml-syntax", *next((said for sign, *said in _PLAIN_WORDS if sign in problem), otherwise))


_KEEPS_BACK = re.compile(r"\b(?:private|draft)\b", re.IGNORECASE)
_HOW_TO_KEEP_BACK = "write `private: true` as a key of its own, `IMG_1.jpg: {caption: …, private: true}` for a picture"
"""In quotes it would be words, and what it was to hide would be published."""

_ESCAPE = ("a backslash in double quotes changes the letter behind it", "use single quotes: 'C:\\temp'")


def _last_tight_hash(lines: list[str], last: int) -> int | None:
    """The nearest line up to `last` where `#40` or the like begins a comment: it cut a list short."""
    upwards = range(min(last, len(lines) - 1), -1, -1)
    return next((number for number in upwards if re.search(r"[\s,\[]#\S", lines[number])), None)


FREE_TEXT = frozenset(
    {"title", "photos", "tools", "methods", "answers", "stage", "findings"}
    | {"aircraft", "people", "places", "assemblies"}
)
"""Keys whose values are the builder's own words, where ` #` is more likely text than a comment."""

FIGURES = frozenset(
    {"date", "steps", "begun", "redone", "hours", "private", "draft", "zone", "show", "closing_inspections"}
    | {"construction", "units", "language"}
    | {"grip", "count", "shop_head", "edge", "nut", "value", "drag", "outcome", "opacity", "corner", "budget"}
)
"""Keys behind whose values `#like this` is a comment, too."""

_COMMENT = re.compile(r"#[^\n]*")
_ODD_ESCAPE = re.compile(r"(?<!\\)(?:\\\\)*\\[abefnrtv0NLP_\n]")


def _note_lost(text: str, tokens: list[_Token], notes: Notes, first_line: int) -> None:
    """Every word between the first letter of a value and its last is a word of the value, or an error says what would
    be lost or changed: `#40` taken for a comment, a backslash in double quotes, a list item that became part of the
    one above it. `# like this` is a comment, but behind unquoted words in an entry; so is `#this` behind a figure.
    """

    def error(at: int, word: str, said: str, hint: str, mend: tuple[str, str] | None = None) -> None:
        line = text.count("\n", 0, at)
        notes.error((line + first_line, at - text.rfind("\n", 0, at)), word, said, hint, mend)

    for token in tokens:
        raw = text[token.start : token.end]
        if token.style is None and (item := re.search(r"\n[ \t]*(- )", raw)):
            said = "this is taken for more of the text above it"
            error(token.start + item.start(1), "yaml-indent", said, "let each `-` begin in the same column")
        elif token.style == '"' and "\\" in raw and (odd := _ODD_ESCAPE.search(raw)):
            mend = (raw, quoted(raw)) if "\n" not in raw else None
            error(token.start + odd.end() - 2, "yaml-escape", *_ESCAPE, mend)
        elif token.style in ("|", ">") and (mark := re.match(r"[^\n]*?(#[^\n]*\w)", raw)):
            error(token.start + mark.start(1), "yaml-hash", _lost(mark[1]), "begin the text on the next line")
    edges = [0, *(edge for token in tokens for edge in (token.start, token.end)), len(text)]
    gaps = list(zip(edges[::2], edges[1::2], strict=True))
    if odd := re.search(r"[^\s:,\[\]{}?-]+", _COMMENT.sub("", "\n".join(text[start:end] for start, end in gaps))):
        at = next(start + found for start, end in gaps if (found := text[start:end].find(odd[0])) >= 0)
        error(at, "yaml-syntax", f'"{odd[0]}" would be lost', "put the text in quotes")
    for token, (start, end) in zip(tokens, gaps[1:], strict=True) if "#" in text else ():
        for comment in _COMMENT.finditer(text, start, end):
            if _swallows(text, token, comment, notes.file):
                on_line = not token.is_key and "\n" not in text[token.start : comment.start()]
                whole = text[token.start : comment.end()].strip()
                new = quoted(whole, "" if token.is_item or not token.keys else token.keys[-1])
                hint = f"put the text in quotes: {new}" if on_line else "put the whole text in quotes"
                before = text[text.rfind("\n", 0, token.start) + 1 : token.start]
                mend = (whole, new) if on_line and "[" not in before else None
                if _KEEPS_BACK.search(comment[0]):
                    hint, mend = _HOW_TO_KEEP_BACK, None
                error(comment.start(), "yaml-hash", _lost(comment[0].strip()), hint, mend)


def _lost(what: str) -> str:
    return f'"{what}" is taken for a comment and lost'


def _swallows(text: str, token: _Token, comment: re.Match[str], file: str) -> bool:
    """Whether a comment, the first things before which are `token` and signs, is words of the value before it."""
    said = comment[0][1:]
    tight, words = said[:1].strip(" \t") != "", not FREE_TEXT.isdisjoint(token.keys[:1]) or "wrench" in token.keys
    figures = not words and not FIGURES.isdisjoint(token.keys)
    line_start = text.rfind("\n", 0, comment.start()) + 1
    between = text[max(token.end, line_start) : comment.start()].strip()
    probable = bool(tight or (words and said.strip() and file.endswith("index.md")))
    on_line = line_start < token.end  # a block of lines ends with the line before
    above = re.sub(r"[\s:]+", "", _COMMENT.sub("", text[token.end : line_start]))
    line = text[text.rfind("\n", 0, token.start) + 1 : token.start]
    # In braces a key stands where it happens to: its line says how far in it is.
    indent = len(line) - len(line.lstrip()) if re.search(r"[{\[]", line) else token.indent
    # Behind a bracket that closes too soon `#40` is a word all the same.
    under = not (above.strip("]}") if tight else above) and comment.start() - line_start > indent
    if between.endswith(("-", "?")):  # an item, or a key, that is empty
        return probable
    if (above + between).endswith(("[", "{", ",")):  # one in brackets
        return (tight and not figures) or (on_line and not token.is_key and probable and words)
    if token.is_key:
        return token.takes_text and (probable if on_line else tight and under)
    if between:
        return False
    if token.style in ("'", '"'):  # `"1/8" #40"`
        return (on_line or under) and (token.style in said or bool(tight and words))
    return (probable and not figures) if on_line else tight and under
