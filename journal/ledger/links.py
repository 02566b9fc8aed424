"""Links in prose, checked: what leads to nothing, to a private page, or to a picture of another host."""

from __future__ import annotations

import posixpath
import re
from collections import defaultdict
from collections.abc import Iterator
from urllib.parse import unquote

from journal.base.model import Build, Entry, FreePage, WriteUp
from journal.base.private_passages import private_lines
from journal.base.problems import Problem, finding, nearest
from journal.base.prose import blank_code, find_images, is_elsewhere

_LINK = re.compile(r"\[(?<![\\!]\[)(?:[^\[\]]|\[[^\[\]]*\])*\]\(\s*(<[^<>\n]*>|[^\s()<>]*(?:\([^\s()]*\)[^\s()]*)*)")
_DEFINITION = re.compile(r"^ {0,3}\[(?!\^)[^\]\n]+\]:[ \t]*<?([^\s>]+)>?", re.MULTILINE)


_FOOTNOTE = re.compile(r"^ {0,3}(\[\^[^\]\n]+\]):", re.MULTILINE)


def find_links(text: str) -> Iterator[tuple[str, int]]:
    """(target, offset) of every link written in the Markdown `text`, inline or by definition."""
    return ((target, start) for target, start, _ in find_targets(text))


def find_targets(text: str) -> Iterator[tuple[str, int, int]]:
    """(target, offset of the link, offset of its target) of every link written in the Markdown `text`."""
    bare = blank_code(text)
    for pattern in (_LINK, _DEFINITION):
        for match in pattern.finditer(bare):
            if target := match[1].strip("<>"):
                yield target, match.start(), match.start(1) + match[1].startswith("<")


def check_links(build: Build) -> tuple[Problem, ...]:
    """Findings on links in prose: `broken-link` leads to nothing, `private-link` to a private page
    (followers see its words without a link), `picture-elsewhere` shows a picture of another host,
    `picture-unshown` on a free page is no public picture of an entry, `footnote-twice` takes the words of another.
    """
    private = _link_targets(build)
    told: list[Entry | WriteUp | FreePage] = [*build.entries, *build.drafts, *build.write_ups, *build.pages]
    problems: list[Problem] = []
    for of in told:
        here, is_private = posixpath.dirname(of.src_uri), getattr(of, "private", False)
        if "](" not in of.body and "]:" not in of.body:
            continue
        hidden = private_lines(of.body)
        notes = list(_FOOTNOTE.finditer(blank_code(of.body)))
        last = {note[1]: note.start() for note in notes}
        for note in notes:
            if note.start() != last[note[1]]:
                where = (of.body_line + of.body.count("\n", 0, note.start()), 1)
                said = f'the footnote "{note[1]}" is written more than once, and this one is shown nowhere'
                problems.append(finding(of.src_uri, where, "footnote-twice", said, "give each a name of its own"))
        for target, offset in find_links(of.body):
            if is_elsewhere(target) or target.startswith("#"):
                continue
            line = of.body.count("\n", 0, offset)
            where = (of.body_line + line, offset - (of.body.rfind("\n", 0, offset) + 1) + 1)
            joined = posixpath.normpath(posixpath.join(here, unquote(target.partition("#")[0])))
            if joined not in private:
                guess = nearest(joined, private, likeness=0.9)
                said = f'the link "{target}" leads to nothing that is in the journal'
                hint = "link to another entry as ../FOLDER/index.md, to a page as ../../pages/NAME.md"
                hint = f'did you mean "{posixpath.relpath(guess, here)}"?' if guess else hint
                problems.append(finding(of.src_uri, where, "broken-link", said, hint))
            elif private[joined] and not is_private and not hidden[line]:
                said = f'the link "{target}" leads to a private page; on the site its words stand without a link'
                problems.append(finding(of.src_uri, where, "private-link", said))
        for image in find_images(of.body):
            where = (of.body_line + image.line - 1, image.column)
            joined = posixpath.normpath(posixpath.join(here, image.target))
            if image.elsewhere:
                said = f'the picture "{image.target}" lies on another host; the site shows a link in its place'
                hint = "put the file into the entry's folder"
                problems.append(finding(of.src_uri, where, "picture-elsewhere", said, hint))
            elif isinstance(of, FreePage) and private.get(joined, True):
                said = f'the picture "{image.target}" is none that an entry shows, and stands nowhere on the page'
                hint = "name one of an entry: ../entries/FOLDER/FILE"
                problems.append(finding(of.src_uri, where, "picture-unshown", said, hint))
    return tuple(problems)


def _link_targets(build: Build) -> dict[str, bool]:
    """What prose may link to, as paths from the build folder, and whether only the archive has it."""
    found: dict[str, bool] = defaultdict(bool, {page.src_uri: False for page in build.pages})
    owners: list[Entry | WriteUp] = [*build.entries, *build.drafts, *build.write_ups]
    for owner in owners:
        for uri in (owner.src_uri, posixpath.dirname(owner.src_uri)):
            found[uri] |= owner.private
        for photo in owner.photos:
            found[photo.src_uri] |= owner.private or photo.private
    return dict(found)
