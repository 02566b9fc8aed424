"""Which parts of a body are private, and what of it may be published.

Two judgements have to agree. The first goes by lines and hides much: a mark in any container (quote, list,
footnote), what is indented under it, and lines that only lack their indent. The second asks Markdown itself what
the rest means. Where a private box or a mark is still seen there, or words come to light that Markdown had in a
private box, nothing of the body is published, and the reader makes an error of it.
"""

from __future__ import annotations

import difflib
import re
import threading
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import unescape
from typing import TYPE_CHECKING
from urllib.parse import unquote

from journal.base.prose import BODIES, COMMENT, plain, without_accents

if TYPE_CHECKING:
    import markdown

_MAY_HIDE = re.compile(r"[!?]{2}|<!--|&(?:#0*33|#x0*21|excl|#0*63|#x0*3f|quest)\b|\bpriv|\[\^", re.IGNORECASE)
_CONTAINERS = (
    r"(?P<containers>(?:[ \t]|>|[-*+](?=[ \t])|(?:\d{1,9}|[a-z])[.)](?=[ \t])|\[[ xX]\](?=[ \t])|\[\^[^\]\n]*\]:)*+)"
)
_MARK = re.compile(
    _CONTAINERS + r"(?:<[^>\n]*>|[^\w\n!?❗❕¡:~\[])*+"
    r"(?P<marks>(?:[!?❗❕¡][\\ ]?){2,}+\+?|[!❗❕¡] ?(?=private)|:{3,}|~{3,}(?= *private)|\[!(?=private))"
    r"[^\w\n]*+(?P<words>[^\n\"“”„«]*)",
    re.IGNORECASE,
)
_FLAG = re.compile(r"[ \t>*_-]*private[ \t]*[:=][ \t]*(?:true|yes|y|on|1)?[ \t*_]*", re.IGNORECASE)
_SURE = re.compile(r"[!?]{3}\+?\s*private\b", re.IGNORECASE)
_QUOTE = re.compile(r"[ \t]*(?:(?:[-*+]|\d{1,9}[.)])[ \t]+)*>[ ]?")
_BEGINS_ANEW = re.compile(r"[ \t]*(?:#{1,6}[ \t]|[!?]{3})")
_LIST_ITEM = re.compile(r"[ \t]*(?:[-*+]|\d{1,9}[.)])[ \t]")
_DEFINITION = re.compile(r"^[ \t>]*\[([^\]\n]+)\]:[ \t]*<?([^\s>]+)>?", re.MULTILINE)
_PICTURE = re.compile(r"!\[([^\[\]]*)\](?:[ ]?\[([^\[\]]*)\])?(?!\()")
_FOOTNOTE = re.compile(r"^[ \t>]*\[\^([^\]\n]*)\]:", re.MULTILINE)
_CODE = re.compile(r"`[^`\n]+`")
_WORD = re.compile(r"\w+")
_LIKENESS = 0.8
"""How like the word after the mark is to "private": a slip of one or two letters is, "pilot" is not."""

Mark = re.Match[str] | None

Unclear = tuple[int, str, str, str]
"""Line (from 1), code word, what is wrong, how to mend it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Passages:
    """What is private in a body.

    `public` is what may be published: the body without private passages and comments, nothing where that is
    unclear. `private` tells it for every line, `hidden` is the text of those lines and of the comments. `shown`
    are the targets of the pictures that the public text places. `unclear` is told as errors, `unindented` (lines
    from 1 that were taken along because only their indent is missing) as findings.
    """

    public: str
    private: tuple[bool, ...]
    hidden: str = ""
    shown: frozenset[str] = frozenset()
    unclear: tuple[Unclear, ...] = ()
    unindented: tuple[int, ...] = ()

    def names(self, file: str) -> bool:
        """Whether a private passage or a comment names `file` in any way, also without its ending."""
        if not self.hidden:
            return False
        name = plain(file).casefold()
        stem = name.rpartition(".")[0]
        named = [name, stem] if len(stem) > 3 and re.search(r"\d", stem) else [name]
        return any(re.search(rf"(?<![^\W_]){re.escape(one)}(?![^\W_])", self.hidden) for one in named)


def _may_hide(text: str) -> bool:
    """Whether anything in a plain text may hide something: nearly none holds any of the letters that it takes."""
    letters = text.lower()
    signs = not text.isascii() or any(sign in letters for sign in ("!!", "!?", "?!", "??", "<!--", "&", "priv", "[^"))
    return signs and bool(_MAY_HIDE.search(text))


@lru_cache(maxsize=BODIES)
def find_passages(body: str) -> Passages:
    """What is private in `body` (line ends are `\\n`)."""
    lines = body.split("\n")
    if not _may_hide(plain(body)):
        return Passages(public=body, private=(False,) * len(lines))
    # A comment may stand before a mark and hide it from the eye, or stand around one.
    bare = COMMENT.sub(lambda comment: "\n" * comment[0].count("\n"), body).split("\n")
    marks = [_mark(other) or _mark(line) for line, other in zip(lines, bare, strict=True)]
    private, unindented = _private_lines(lines, marks)
    private = [one or other for one, other in zip(private, _private_lines(bare, marks)[0], strict=True)]
    public = COMMENT.sub("", _without(body, private))
    flags = [*_flags(lines)]
    unclear = [*_odd_marks(marks), *_nothing_under(lines, marks, private, unindented), *flags]
    shown, unlike = _second_judgement(body, public)
    doubt = bool(flags or unlike)
    if unlike and not flags:
        first = next((number for number, line in enumerate(lines, 1) if _MAY_HIDE.search(plain(line))), 1)
        hint = "write `!!! private` at the left edge, and indent what is private by four spaces"
        unclear.append((first, "private-unclear", unlike, hint))
    comments = "".join(comment[0] for comment in COMMENT.finditer(body))
    kept = [line for line, hides in zip(lines, private, strict=True) if hides or doubt]
    return Passages(
        public="" if doubt else public,
        private=tuple(True for _ in lines) if doubt else tuple(private),
        hidden=_with_targets(body, "\n".join(kept) + comments),
        shown=frozenset() if doubt else shown,
        unclear=tuple(sorted(unclear)),
        unindented=() if unclear else tuple(unindented),
    )


def private_lines(body: str) -> tuple[bool, ...]:
    """For every line of `body`, whether it is part of a private passage."""
    return find_passages(body).private


def cut_private(body: str) -> str:
    """`body` as it may be published."""
    return find_passages(body).public


# -- by lines --------------------------------------------------------------------------------------


def _mark(line: str) -> Mark:
    """The mark that opens a private passage in `line`, written rightly or nearly so. What is said of one in code
    on the same line opens none.
    """
    found = _MARK.match(_CODE.sub("code", plain(line)))
    words = re.findall(r"[^\W\d_]+", found["words"].casefold()) if found else []
    if found and words and (_is_private(words[0]) or ("private" in words and len(found["marks"].rstrip("+ ")) == 3)):
        return found
    return None


def _is_private(word: str) -> bool:
    bare = without_accents(word)
    like = difflib.SequenceMatcher(None, bare, "private").ratio() >= _LIKENESS
    return like or (bare.startswith("priv") and len(bare) < 7)


def _indent(line: str) -> int:
    expanded = line.expandtabs(4)
    return len(expanded) - len(expanded.lstrip())


def _private_lines(lines: Sequence[str], marks: Sequence[Mark]) -> tuple[list[bool], list[int]]:
    """(for every line whether it is private, lines from 1 that only lack their indent).

    A passage is its opening line and the lines after it that are blank or indented more deeply; a line without
    indent that follows a private one without a blank line between is one too, unless it begins something new.
    Where nothing at all is indented, the paragraph behind the mark is taken along. In a quote the same holds of what
    is quoted. Wherever a mark stands, even in a code block, it opens a passage: hiding too much is the mistake that
    can be mended.
    """
    private = [False] * len(lines)
    unindented: list[int] = []
    opened: Mark = None
    quotes = depth = 0
    waiting = False  # for the first text of a passage, which is taken along however it stands
    for number, line in enumerate(lines):
        here, inside = _unquoted(line, quotes)
        if opened and inside.strip():
            after_blank = not _unquoted(lines[number - 1], quotes)[1].strip()
            if here == quotes and _indent(inside) > depth:
                over = waiting = False
            else:
                in_list = re.sub(r"[>\s]", "", opened["containers"]) != ""
                anew = after_blank or bool(_BEGINS_ANEW.match(inside)) or (in_list and bool(_LIST_ITEM.match(inside)))
                over = bool(marks[number]) if waiting else anew
                unindented += [] if over else [number + 1]
                following = "".join(lines[number + 1 : number + 2])
                waiting = waiting and bool(_unquoted(following, quotes)[1].strip())
            opened = None if over else opened
        if opened is None and (opened := marks[number]):
            quotes = opened["containers"].count(">")
            depth, waiting = _indent(_unquoted(line, quotes)[1]), True
        private[number] = opened is not None
    return private, unindented


def _unquoted(line: str, quotes: int) -> tuple[int, str]:
    """(how many of so many marks of quotation `line` has, what stands behind them)."""
    here = 0
    while here < quotes and (mark := _QUOTE.match(line)):
        line, here = line[mark.end() :], here + 1
    return here, line


def _without(body: str, private: Sequence[bool]) -> str:
    """`body` without its private lines; what stood around them does not grow together."""
    kept: list[str] = []
    cut = False
    for line, hides in zip(body.split("\n"), private, strict=True):
        if cut and not hides and kept and kept[-1].strip() and line.strip():
            kept.append("")
        cut = hides
        kept += [] if hides else [line]
    text = "\n".join(kept)
    for label in _FOOTNOTE.findall(text):
        if f"[^{label}]" not in _FOOTNOTE.sub("", text) and body.count(f"[^{label}]") > text.count(f"[^{label}]"):
            # What only a private passage refers to would be printed below the page.
            text = re.sub(rf"^[ \t>]*\[\^{re.escape(label)}\]:.*(?:\n(?:[ \t]+.*|(?=\n[ \t])))*", "", text, flags=re.M)
    gone = set(_FOOTNOTE.findall(body)) - set(_FOOTNOTE.findall(text))
    return re.sub("|".join(rf"\[\^{re.escape(label)}\]" for label in gone), "", text)


def _odd_marks(marks: Sequence[Mark]) -> Iterator[Unclear]:
    for number, mark in enumerate(marks, start=1):
        written = mark.string[len(mark["containers"]) :] if mark else ""
        if mark and not _SURE.match(written):
            said = f'"{" ".join(written.split())[:40]}" is not how a private passage opens; it was taken for one'
            yield number, "private-unclear", said, "write `!!! private` in a line of its own"


def _flags(lines: Sequence[str]) -> Iterator[Unclear]:
    for number, line in enumerate(lines, start=1):
        if _FLAG.fullmatch(plain(line)):
            said = f'"{line.strip()}" stands in the text, where it hides nothing'
            yield number, "private-unclear", said, "write it between the two lines of `---` at the head of the file"


def _nothing_under(
    lines: Sequence[str], marks: Sequence[Mark], private: Sequence[bool], unindented: Sequence[int]
) -> Iterator[Unclear]:
    """Marks under which nothing is indented: the writer meant to hide what follows."""
    opened = 0  # the line of an opening mark under which nothing has come yet
    said = "nothing is indented under `!!! private`, so nothing is sure to be hidden"
    hint = "indent the private lines by four spaces"
    for number, (line, mark, hides) in enumerate(zip((*lines, ""), (*marks, None), (*private, False), strict=True), 1):
        bare = number in unindented or not hides
        if opened and (mark or number > len(lines) or (line.strip() and bare)):
            yield opened, "private-empty", said, hint
        if mark:
            opened = number
        elif line.replace(">", "").strip():
            opened = 0


# -- by Markdown -----------------------------------------------------------------------------------

_one_at_a_time = threading.Lock()


@lru_cache(maxsize=1)
def _machine() -> markdown.Markdown:
    from journal.base.prose_tree import new_markdown  # slow to import, and most builds have nothing to cut

    return new_markdown()


def _second_judgement(body: str, public: str) -> tuple[frozenset[str], str]:
    """(targets of the pictures that `public` places, why that may not be published or "")."""
    from journal.base.prose_tree import parse_tree, take_images

    source, images = take_images(public)
    try:
        with _one_at_a_time:
            cut = parse_tree(_machine(), source)
            seen = _reads_as(cut, "")
            shown = Counter(_WORD.findall(_reads_as(cut, " ")))
            whole = _without_boxes(parse_tree(_machine(), take_images(body)[0]))
            shown -= Counter(_WORD.findall(_reads_as(whole, " ")))
    except RecursionError:
        return frozenset(), "the text is nested too deeply to tell what in it is private"
    if COMMENT.search(public) or any("private" in box.get("class", "").casefold() for box in cut.iter("div")):
        return frozenset(), "a private passage stands where it cannot be cut out"
    if any(_mark(line) for line in seen.split("\n")):
        return frozenset(), "a line reads as the opening of a private passage and is none"
    if shown:
        return frozenset(), "what is private here cannot be told from what is not"
    sources = (unquote(image.get("src", "")).removeprefix("./") for image in cut.iter("img"))
    return frozenset((*images, *sources)), ""


def _reads_as(tree: ET.Element, between: str) -> str:
    from journal.base.prose_tree import PICTURE, unstash

    for reference in tree.iter("a"):  # which are numbered anew where one of them is gone
        reference.text = "" if reference.get("class") == "footnote-ref" else reference.text
    for code in tree.iter("code"):
        code.text = "code" if "\n" not in (code.text or "") else code.text
    return unescape(unstash(_machine(), PICTURE.sub("", between.join(tree.itertext()))))


def _without_boxes(tree: ET.Element) -> ET.Element:
    for parent in list(tree.iter()):
        for child in list(parent):
            if "private" in child.get("class", "").casefold().split():
                parent.remove(child)
    return tree


def _defined(body: str) -> dict[str, str]:
    """What the labels of `body` (folded) stand for: `[p]: ./a%201.jpg` is a 1.jpg."""
    found = _DEFINITION.findall(body)
    return {label.casefold(): plain(unquote(target).removeprefix("./")).casefold() for label, target in found}


def _with_targets(body: str, hidden: str) -> str:
    """`hidden`, folded, with the names of the files that its pictures mean by a definition elsewhere."""
    folded = plain(f"{hidden}\n{unquote(unescape(hidden))}".replace("\\", "")).casefold()
    named = [target for label, target in _defined(body).items() if f"[{label}]" in folded]
    return "\n".join([folded, *named])


def without_pictures(body: str, files: Collection[str]) -> str:
    """`body` without its pictures of `files` that are given by a definition elsewhere, words included."""
    wanted = {plain(file).casefold() for file in files}
    hidden = {label for label, target in _defined(body).items() if target in wanted} if wanted else ()
    if not hidden:
        return body
    return _PICTURE.sub(lambda found: "" if (found[2] or found[1]).casefold() in hidden else found[0], body)
