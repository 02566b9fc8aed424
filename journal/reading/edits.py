"""One thing changed in the text of an entry, and nothing else in it: comments, order, quotes and line ends stay.

Libraries that keep comments write the whole front matter anew; here the parser only tells where a value stands, and the
text around it is not touched. Each edit is proved before it is given back: read again, the front matter says what was
asked for and otherwise what it said before.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import yaml

from journal.base.addresses import address_word, fold_name
from journal.base.prose import blank_code
from journal.base.text_files import yaml_figure, yaml_key, yaml_list, yaml_row, yaml_text
from journal.reading.entries import ENTRY_KEYS
from journal.reading.form import NOTHING, folded_key
from journal.reading.hours import parse_duration, parse_span, time_parts
from journal.reading.text import Notes
from journal.reading.tree import Fields, Items, Node, Scalar, parse_yaml

Pair = tuple[yaml.ScalarNode, yaml.Node]


class EditRefusedError(Exception):
    """The edit cannot be made without touching anything else; the message says why and is for the builder."""


BY_HAND = "open the file and write it there"


def read_as_it_is(place: Path, file: str) -> str:
    """The text of a file with its own line ends, `file` in messages. Raises EditRefusedError, OSError."""
    try:
        return place.read_bytes().decode("utf-8")
    except UnicodeDecodeError:
        raise EditRefusedError(f"{file} is not written as UTF-8; save it so") from None


PARTED = frozenset({"steps", "begun", "redone", "people", "materials"})
"""Lists of which the reader parts a plain text by commas whatever is in it; names of tools may hold some."""


@dataclass(frozen=True, slots=True)
class _Front:
    """The text of an entry in three: what stands before the keys, the keys, and the rest from the closing rule on."""

    before: str
    keys: str
    rest: str
    pairs: tuple[Pair, ...]

    @property
    def newline(self) -> str:
        return "\r\n" if "\r\n" in self.before else "\n"

    def pair(self, key: str) -> Pair | None:
        """The key as the reader knows it, in any capitals, with its value."""
        return next((pair for pair in self.pairs if folded_key(pair[0].value) == key), None)

    def spliced(self, start: int, end: int, new: str) -> str:
        """The whole text with `new` in the place of a piece of the keys."""
        return self.before + self.keys[:start] + new + self.keys[end:] + self.rest

    def line_end(self, at: int) -> int:
        """The offset behind the line on which `at` is."""
        found = self.keys.find("\n", at)
        return len(self.keys) if found < 0 else found + 1

    def with_line(self, at: int, line: str) -> str:
        """The whole text with a line of its own at the offset `at`, where a line begins or the keys end."""
        gap = self.newline if at and self.keys[at - 1] != "\n" else ""
        return self.spliced(at, at, f"{gap}{line}{self.newline}")


_RULES = re.compile(r"(\ufeff?(?:\r?\n)*-{3,}[ \t]*\r?\n)(.*?)(^-{3,}\s*?$.*)", re.DOTALL | re.MULTILINE)


def _front(text: str) -> _Front:
    found = _RULES.match(text)
    if not found and "\r" in text.replace("\r\n", ""):
        raise EditRefusedError("its lines end in an old way (CR alone); save it with the line ends of today")
    if not found:
        raise EditRefusedError(f"the front matter cannot be told from the text; {BY_HAND}")
    before, keys, rest = found.groups()
    return _Front(before, keys, rest, _pairs(keys))


def _pairs(keys: str) -> tuple[Pair, ...]:
    """The keys of a block of YAML with their values. Raises EditRefusedError."""
    try:
        root = yaml.compose(keys, Loader=yaml.SafeLoader)
    except (yaml.YAMLError, ValueError):
        root = yaml.ScalarNode("", "")
    if root is None:
        return ()
    if not isinstance(root, yaml.MappingNode) or root.flow_style:
        raise EditRefusedError(f"the front matter cannot be read; {BY_HAND}")
    return tuple(root.value)


def _end(node: yaml.Node) -> int:
    """The offset behind the last sign of a node; the parser lets blocks end behind the comments that follow them."""
    if isinstance(node, yaml.CollectionNode) and not node.flow_style:
        last = node.value[-1]
        return max(map(_end, last)) if isinstance(last, tuple) else _end(last)
    assert node.end_mark
    end = int(node.end_mark.index)
    if isinstance(node, yaml.ScalarNode) and node.style in ("|", ">"):
        # The line end, and empty lines behind, are none of its signs.
        return len(str(node.end_mark.buffer)[:end].rstrip())
    return end


def _start(node: yaml.Node) -> int:
    assert node.start_mark
    return int(node.start_mark.index)


# -- the edits -------------------------------------------------------------------------------------


def set_value(text: str, key: str, value: str) -> str:
    """`text` with `key: value` (YAML on one line), in the place of the value that is there, else on a line of its own
    where such keys stand by custom; without the key where `value` is empty. Raises EditRefusedError.
    """
    if not value:
        return drop_key(text, key)
    front = _front(text)
    pair = front.pair(key)
    after = _added_key(front, key, f"{key}: {value}") if pair is None else _replaced(front, *pair, value)
    return _proved(text, after, key, lambda node: node == _value(value))


def add_items(text: str, key: str, items: Sequence[str]) -> str:
    """`text` with more names in the list under `key`, behind those that are there. Raises EditRefusedError."""
    node = _get(_read_front(text), key)
    known = _items(node) if not isinstance(node, Scalar) else re.split(r"\s*[,;+&]\s*", node.text.strip())
    missing = [item for item in dict.fromkeys(items) if item not in known]
    for item in missing:
        text = _add_item(text, key, yaml_figure(item), f"[{yaml_figure(item)}]")
    return text


def add_row(text: str, key: str, row: Mapping[str, str] | Node) -> str:
    """`text` with one more line in the list of mappings under `key`. Raises EditRefusedError."""
    said = yaml_row(row) if isinstance(row, Mapping) else flow(row)
    return _add_item(text, key, said, f"\n- {said}")


def set_caption(text: str, photo: str, caption: str, step: str = "", *, private: bool = False) -> str:
    """`text` with the caption of a photo, under `photos` where it is not there yet; of a new one also the step that it
    shows, and whether it is private. Raises EditRefusedError.
    """
    more = (f", step: {yaml_figure(step)}" if step else "") + (", private: true" if private else "")
    return put_photo(text, photo, f"{{caption: {yaml_text(caption)}{more}}}" if more else yaml_text(caption), caption)


def put_photo(text: str, photo: str, value: str, caption: str) -> str:
    """`text` with what is said of a photo (YAML on one line, in which its `caption` stands) under `photos`; where
    something is said of it already only the caption becomes another. Raises EditRefusedError.
    """
    front = _front(text)

    def proved(after: str) -> str:
        return _proved(text, after, "photos", lambda node: _captions(node) == {**was, photo: caption})

    was = _captions(_get(_read_front(text), "photos"))
    photo = _as_written(photo, was)
    pair, said = front.pair("photos"), f"{yaml_key(photo)}: {value}"
    node = pair[1] if pair else None
    rows: list[yaml.Node | None] = node.value if isinstance(node, yaml.SequenceNode) else [node]
    for row in rows:
        if isinstance(row, yaml.ScalarNode) and row.value == photo and isinstance(node, yaml.SequenceNode):
            return proved(front.spliced(_start(row), _end(row), said))
        if not isinstance(row, yaml.MappingNode):
            continue
        for name, shown in row.value:
            if name.value == photo:
                return proved(_captioned(front, name, shown, value))
            if folded_key(name.value) == "file" and shown.value == photo and row is not node:
                return proved(_captioned(front, name, row, value))
    if isinstance(node, yaml.SequenceNode):
        return proved(_added_to_list(front, node, said if not node.flow_style else f"{{{said}}}"))
    return proved(_added_under(front, "photos", said))


def add_pair(text: str, key: str, name: str, value: str) -> str:
    """`text` with `name: value` (YAML on one line) in the mapping under `key`, in the place of what `name` has there.
    Raises EditRefusedError.
    """
    front = _front(text)
    pair, wanted = front.pair(key), _value(value)
    pairs = pair[1].value if pair and isinstance(pair[1], yaml.MappingNode) else ()
    there: Pair | None = next((one for one in pairs if one[0].value == name), None)
    after = _replaced(front, *there, value) if there else _added_under(front, key, f"{yaml_key(name)}: {value}")
    return _proved(text, after, key, lambda node: isinstance(node, Fields) and node.get(name) == wanted)


def drop_photo(text: str, photo: str) -> str:
    """`text` without what is said of a photo under `photos`, and without that key where nothing is left. Raises
    EditRefusedError.
    """
    front = _front(text)
    was = _captions(_get(_read_front(text), "photos"))
    pair = front.pair("photos")
    photo = _as_written(photo, was)
    names = re.split(r"\s*[,;]\s*", pair[1].value.strip()) if pair and isinstance(pair[1], yaml.ScalarNode) else []
    if pair and photo not in was and (others := [name for name in names if fold_name(name) != fold_name(photo)]):
        value = ", ".join(others)
        holds = Scalar(text=value, where=(0, 0))
        return text if others == names else _proved(text, _replaced(front, *pair, value), "photos", holds.__eq__)
    if photo not in was or pair is None:
        return text
    left = {name: caption for name, caption in was.items() if name != photo}
    node = pair[1]
    if not left:
        return drop_key(text, "photos")
    if not isinstance(node, yaml.CollectionNode):
        raise EditRefusedError(f"`photos` holds names in one text; {BY_HAND}")
    extents = []
    for row in node.value:
        first, last = row if isinstance(row, tuple) else (row, row)
        pairs = first.value if isinstance(first, yaml.MappingNode) else []
        files = [value.value if folded_key(key.value) == "file" else key.value for key, value in pairs]
        extents.append((_start(first), max(_end(first), _end(last)), files or [first.value]))
    place = next(number for number, (_, _, names) in enumerate(extents) if photo in names)
    start, end, _ = extents[place]
    if node.flow_style:
        start, end = (start, extents[place + 1][0]) if place + 1 < len(extents) else (extents[place - 1][1], end)
        last = end
    else:
        start = front.keys.rfind("\n", 0, start) + 1
        last, end = end, front.line_end(max(end, start))
    if _comment_in(front.keys[start:last]):
        raise EditRefusedError(f"a comment stands in the lines of `photos`; {BY_HAND}")
    behind = front.keys[last:end].lstrip()  # a comment stays, on a line of its own
    return _proved(text, front.spliced(start, end, behind), "photos", lambda node: _captions(node) == left)


def _as_written(photo: str, names: Collection[str]) -> str:
    """A photo as `photos` names it, in whatever capitals."""
    return next((name for name in names if fold_name(name) == fold_name(photo)), photo)


def flow(node: Node) -> str:
    """A node as YAML on one line."""
    if isinstance(node, Scalar):
        return yaml_text(node.text) if node.quoted else yaml_figure(node.text)
    if isinstance(node, Items):
        return f"[{', '.join(map(flow, node.nodes))}]"
    return f"{{{', '.join(f'{yaml_key(name.text)}: {flow(value)}' for name, value in node.pairs)}}}"


def comments_and_body(text: str) -> tuple[list[str], str]:
    """(the comments of the front matter, without `# `; the text below it). Raises EditRefusedError."""
    front, at = _front(text), 0
    comments: list[str] = []
    for token in yaml.scan(front.keys):
        comments += re.findall(r"(?:^|(?<=\s))#[ \t]*(.*?)\r?$", front.keys[at : token.start_mark.index], re.MULTILINE)
        at = token.end_mark.index
    return comments, front.rest.partition("\n")[2]


def read_rows(text: str, key: str) -> list[Node]:
    """The lines of the list under a key. Raises EditRefusedError."""
    node = _get(_read_front(text), key)
    return list(node.nodes) if isinstance(node, Items) else [node] if isinstance(node, Fields) else []


def name_hours(text: str, everyone: Sequence[str]) -> str:
    """`text` with the one time that is given for each of `everyone` under the name of each, so that somebody can be
    added; as it is where hours are told by person, or not at all. Raises EditRefusedError.
    """
    front = _front(text)
    pair, was = front.pair("hours"), _bare(_get(_read_front(text), "hours"))
    times = [one.text for one in _nodes(was) if isinstance(one, Scalar)]
    if pair is None or isinstance(was, Fields) or not times:
        return text
    parts = [part.strip() for one in times for part in time_parts(one.strip())]
    if any(parse_span(part) is None and parse_duration(part) is None for part in parts):
        raise EditRefusedError(f"`hours` tells the times of several people in one text; {BY_HAND}")
    said = ", ".join(f"{yaml_key(one)}: {yaml_list(times)}" for one in everyone)
    row = {one: _nodes(was) for one in everyone}
    return _proved(text, _replaced(front, *pair, f"{{{said}}}"), "hours", lambda now: _by_person(now) == row)


def add_time(text: str, person: str, span: str, everyone: Sequence[str], called: Collection[str] = ()) -> str:
    """`text` with one more time (`18:30-20:10`) that a person worked, who may stand there under any of `called`; where
    one time is given for each, `everyone` has that one. Raises EditRefusedError.
    """
    text = name_hours(text, everyone)
    front = _front(text)
    pair, row = front.pair("hours"), _by_person(_get(_read_front(text), "hours"))
    if person not in row:
        person = next((one for one in row if one.casefold() in called), person)
    key = yaml_key(person)
    if pair and not row and not _is_empty(pair[1]):
        after = _replaced(front, *pair, f"{{{key}: [{span}]}}")
    elif pair is None or person not in row:
        after = _added_under(front, "hours", f"{key}: [{span}]")
    else:
        node = next(node for name, node in pair[1].value if name.value == person)
        if isinstance(node, yaml.SequenceNode):
            after = _added_to_list(front, node, span)
        else:
            after = front.spliced(_start(node), _end(node), f"[{front.keys[_start(node) : _end(node)]}, {span}]")
    row[person] = [*row.get(person, []), Scalar(text=span, where=(0, 0))]
    return _proved(text, after, "hours", lambda now: _by_person(now) == row)


def _by_person(node: Node | None) -> dict[str, list[Node]]:
    """The times of each person, where hours are told by person."""
    return {name.text: _nodes(times) for name, times in node.pairs} if isinstance(node, Fields) else {}


def former_names(names: Iterable[str], today: Iterable[str]) -> list[str]:
    """Names that no other name of `today` shares its address with, on a disk that does not tell capitals; each once."""
    living = {address_word(one).casefold() for one in today}
    return [one for one in dict.fromkeys(names) if address_word(one).casefold() not in living]


def add_former_names(text: str, names: Sequence[str], today: str, of: str = "") -> str:
    """`text` with the newest former names under `formerly`, before older ones and without the name of `today`: of an
    entry, or, in build.yml, of what stands under the key `of` (`assemblies`) and its ID. Raises EditRefusedError.
    """
    if not of:
        told = former_names((*names, *_items(_get(_read_front(text), "formerly"))), [today])
        value = yaml_list(told) if len(told) > 1 else yaml_figure(*told or [""])
        return set_value(text, "formerly", value) if told else text
    start = len(text) - len(text.removeprefix("\ufeff"))
    front = _Front(text[:start], text[start:], "", _pairs(text[start:]))
    rows = [node for key, node in front.pairs if folded_key(key.value) == of]
    for key, node in rows[0].value if rows and isinstance(rows[0], yaml.MappingNode) else ():
        if key.value.strip() != today:
            continue
        if isinstance(node, yaml.ScalarNode):
            row = {"title": node.value.strip() or today, "formerly": names[0]}
            return _replaced(front, key, node, yaml_row(row))
        for inner, value in node.value:
            if folded_key(inner.value) == "formerly":
                known = [one.value for one in value.value] if isinstance(value, yaml.SequenceNode) else [value.value]
                return _replaced(front, inner, value, yaml_list(former_names((*names, *known), [today])))
        return _added_pair(front, node, f"formerly: {yaml_list(names) if len(names) > 1 else yaml_figure(names[0])}")
    raise EditRefusedError(f'"{today}" is not found under `{of}`; {BY_HAND}')


def drop_key(text: str, key: str) -> str:
    """`text` without the line, or lines, of `key`; a comment behind it stays. Raises EditRefusedError."""
    front = _front(text)
    if (pair := front.pair(key)) is None:
        return text
    start, last = _start(pair[0]), _end(pair[1])
    if _comment_in(front.keys[start:last]):
        raise EditRefusedError(f"a comment stands in the lines of `{key}`; {BY_HAND}")
    behind = front.keys[last : front.line_end(last)].lstrip()  # a comment stays, on a line of its own
    return _proved(text, front.spliced(start, front.line_end(last), behind), key, lambda node: node is None)


def add_comment(text: str, comment: str) -> str:
    """`text` with `# comment` as the last line of the front matter. Raises EditRefusedError."""
    front = _front(text)
    return _proved(text, front.with_line(len(front.keys), f"# {comment}"), "", lambda node: True)


def drop_comment(text: str, comment: str) -> str:
    """`text` without the line `# comment`, where it is there. Raises EditRefusedError."""
    front = _front(text)
    found = re.search(rf"^# {re.escape(comment)}[ \t]*\r?\n", front.keys, re.MULTILINE)
    return _proved(text, front.spliced(*found.span(), ""), "", lambda node: True) if found else text


def add_paragraph(text: str, words: str) -> str:
    """`text` with one more paragraph of Markdown at its end. Raises EditRefusedError where it would stand in code that
    does not end.
    """
    front = _front(text)
    if not blank_code(f"{front.rest}\n\nx\n").endswith("x\n"):
        raise EditRefusedError("the text ends within code; close it first")
    kept = text.rstrip()
    gap = front.newline * (1 if kept == (front.before + front.keys + front.rest[:3]).rstrip() else 2)
    return kept + gap + words.replace("\n", front.newline) + front.newline


# -- where things go -------------------------------------------------------------------------------


def _added_key(front: _Front, key: str, lines: str) -> str:
    """A new key behind those that stand before it by custom, before the suggestions that follow them; at the end where
    there is no custom.
    """
    order = {name: place for place, name in enumerate(ENTRY_KEYS)}
    if key not in order:
        return front.with_line(len(front.keys), lines)
    before = [pair for pair in front.pairs if order.get(folded_key(pair[0].value), 99) < order[key]]
    at = front.line_end(max(_end(before[-1][1]), _after_colon(front, before[-1][0]))) if before else 0
    return front.with_line(at, lines)


def _after_colon(front: _Front, key: yaml.ScalarNode) -> int:
    """The offset behind the colon of a key."""
    return front.keys.index(":", _end(key)) + 1


def _is_empty(node: yaml.Node) -> bool:
    return isinstance(node, yaml.ScalarNode) and _start(node) == _end(node)


def _replaced(front: _Front, key: yaml.ScalarNode, node: yaml.Node, value: str) -> str:
    start, end = _start(node), _end(node)
    if value[0].isalpha() and _comment_in(front.keys[end : front.line_end(end)]):
        value = json.dumps(value, ensure_ascii=False)  # behind a bare text a comment would be taken for lost words
    if _is_empty(node):
        at = _after_colon(front, key)
        return front.spliced(at, at, f" {value}")
    if isinstance(node, yaml.CollectionNode) and _comment_in(front.keys[start:end]):
        raise EditRefusedError(f"a comment stands in the lines of `{key.value}`; {BY_HAND}")
    if isinstance(node, yaml.CollectionNode) and not node.flow_style:
        start, value = _after_colon(front, key), f" {value}"
    return front.spliced(start, end, value)


def _comment_in(piece: str) -> bool:
    return bool(re.search(r"(^|\s)#", piece))


def _add_item(text: str, key: str, item: str, alone: str) -> str:
    """One more item of a list; `alone` is the list where there is none."""
    front = _front(text)
    pair, was = front.pair(key), _get(_read_front(text), key)
    new = _nodes(_value(f"[{item}]"))
    wanted = [*_nodes(was), *new]
    if pair is None:
        after = _added_key(front, key, f"{key}: {alone}".replace(": \n", f":{front.newline}"))
    elif isinstance(pair[1], yaml.SequenceNode):
        after = _added_to_list(front, pair[1], item)
    elif isinstance(pair[1], yaml.ScalarNode) and wanted == new:
        after = _replaced(front, *pair, f"[{item}]")
    elif isinstance(pair[1], yaml.ScalarNode):
        after, whole = _beside_text(front, pair[1], key, item)
        wanted = [Scalar(text=whole, where=(0, 0))] if whole else wanted
    else:
        raise EditRefusedError(f"`{key}` is no list; {BY_HAND}")
    return _proved(text, after, key, lambda node: _nodes(node) == wanted)


def _beside_text(front: _Front, node: yaml.ScalarNode, key: str, item: str) -> tuple[str, str]:
    """A second item beside a text: in one list with it where it is one name, else behind it with a comma. The second
    part is what the text is then, or nothing where it is a list.
    """
    raw = front.keys[_start(node) : _end(node)]
    several = node.style is None and re.search(r"[,;+&]|\band\b|\s", raw)
    if "\n" in raw or (several and (item[0] in "\"'{[" or key not in PARTED)):
        raise EditRefusedError(f"`{key}` holds several in one text; {BY_HAND}")
    if several:
        return front.spliced(_end(node), _end(node), f", {item}"), f"{node.value}, {item}"
    return front.spliced(_start(node), _end(node), f"[{raw}, {item}]"), ""


def _added_to_list(front: _Front, node: yaml.SequenceNode, item: str) -> str:
    if not node.value:
        return front.spliced(_start(node), _end(node), f"[{item}]")
    last = node.value[-1]
    if node.flow_style:
        return front.spliced(_end(last), _end(last), f", {item}")
    return front.with_line(front.line_end(_end(last)), f"{_margin(front, _start(node))}- {item}")


def _added_pair(front: _Front, node: yaml.MappingNode, pair: str) -> str:
    if node.flow_style:
        at = _end(node.value[-1][1]) if node.value else _start(node) + 1
        return front.spliced(at, at, f", {pair}" if node.value else pair)
    last = node.value[-1]
    at = front.line_end(max(_end(last[1]), _after_colon(front, last[0])))
    return front.with_line(at, _margin(front, _start(node)) + pair)


def _added_under(front: _Front, key: str, said: str) -> str:
    """One more line, or pair, of the mapping under a key that may not be there yet."""
    pair = front.pair(key)
    if pair is None:
        return _added_key(front, key, f"{key}:{front.newline}  {said}")
    if _is_empty(pair[1]):
        return front.with_line(front.line_end(_after_colon(front, pair[0])), f"  {said}")
    if isinstance(pair[1], yaml.MappingNode):
        return _added_pair(front, pair[1], said)
    raise EditRefusedError(f"`{key}` holds no names with their values; {BY_HAND}")


def _margin(front: _Front, at: int) -> str:
    """What stands before the offset on its line, as blanks."""
    return " " * (at - front.keys.rfind("\n", 0, at) - 1)


def _captioned(front: _Front, name: yaml.ScalarNode, node: yaml.Node, value: str) -> str:
    """The caption of a photo whose key is `name`: its text, or what its mapping says under `caption`."""
    if isinstance(node, yaml.ScalarNode):
        return _replaced(front, name, node, value)
    if not isinstance(node, yaml.MappingNode):
        raise EditRefusedError(f'"{name.value}" takes a caption; {BY_HAND}')
    for key, shown in node.value:
        if folded_key(key.value) == "caption":
            return _replaced(front, key, shown, value)
    return _added_pair(front, node, f"caption: {value}")


# -- the proof -------------------------------------------------------------------------------------


def _read(keys: str) -> Fields:
    return parse_yaml(keys.replace("\r\n", "\n"), Notes(""))


def _read_front(text: str) -> Fields:
    return _read(_front(text).keys)


def _get(fields: Fields, key: str) -> Node | None:
    """What stands under a key in any capitals."""
    return next((node for name, node in fields.pairs if folded_key(name.text) == key), None)


def _proved(before: str, after: str, key: str, holds: Callable[[Node | None], bool]) -> str:
    """`after`, if read again it `holds` under `key` and says everywhere else what was there before."""
    old, new = _front(before), _front(after)
    was, notes = _read(old.keys), Notes("")
    now = parse_yaml(new.keys.replace("\r\n", "\n"), notes)
    changed = [
        name
        for name in {pair[0].text for pair in (*was.pairs, *now.pairs)}
        if folded_key(name) != key and _bare(was.get(name)) != _bare(now.get(name))
    ]
    value = _get(now, key)
    if changed or notes.problems or new.rest != old.rest or not holds(value and _bare(value)):
        raise EditRefusedError(f"`{key or 'the front matter'}` cannot be changed by itself here; {BY_HAND}")
    return after


def _value(said: str) -> Node | None:
    """What YAML on one line says."""
    return _bare(_read(f"x: {said}\n").get("x"))


def _bare(node: Node | None) -> Node | None:
    """A node without its places."""
    if isinstance(node, Scalar):
        return Scalar(text=node.text, where=(0, 0))
    if isinstance(node, Items):
        return Items(nodes=tuple(_bare(one) for one in node.nodes if one), where=(0, 0))  # type: ignore[misc]
    if isinstance(node, Fields):
        pairs = tuple((_bare(name), _bare(one)) for name, one in node.pairs)
        return Fields(pairs=pairs, where=(0, 0))  # type: ignore[arg-type]
    return None


def _nodes(node: Node | None) -> list[Node]:
    """The items under a key; none for what is empty or says that there is nothing."""
    bare = _bare(node)
    if isinstance(bare, Items):
        return list(bare.nodes)
    return (
        [] if bare is None or (isinstance(bare, Scalar) and bare.text.strip().casefold() in {"", *NOTHING}) else [bare]
    )


def _items(node: Node | None) -> list[str]:
    return [one.text.strip() for one in _nodes(node) if isinstance(one, Scalar)]


def _captions(node: Node | None) -> dict[str, str]:
    """Photo -> caption of whatever form of `photos`."""
    said: dict[str, str] = {}
    for row in _nodes(node):
        if isinstance(row, Scalar):
            said[row.text] = ""
            continue
        if not isinstance(row, Fields):
            continue
        file, caption = _get(row, "file"), _get(row, "caption")
        if isinstance(node, Items) and isinstance(file, Scalar):
            said[file.text] = caption.text if isinstance(caption, Scalar) else ""
            continue
        for name, shown in row.pairs:
            inner = _get(shown, "caption") if isinstance(shown, Fields) else shown
            said[name.text] = inner.text if isinstance(inner, Scalar) else ""
    return said
