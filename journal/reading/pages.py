"""terms.md and the free pages."""

from __future__ import annotations

import re
from pathlib import Path

from journal.base.model import FreePage, Term, Where
from journal.reading.folders import Split, check_private_blocks, split_front_matter, title_of
from journal.reading.form import Form
from journal.reading.text import Notes, read_text
from journal.reading.tree import Fields

_CELL = re.compile(r"(?<!\\)\|")


def read_terms(path: Path, notes: Notes) -> tuple[Term, ...]:
    """The rows of the Markdown table `| term | meaning | source |` in terms.md.

    A term cell may hold several words, parted by commas: the first is the headword.
    """
    text = read_text(path, notes)
    terms: dict[str, Term] = {}
    columns = 0
    for number, line in enumerate((text or "").split("\n"), start=1):
        if not line.lstrip().startswith("|"):
            columns = 0
            continue
        cells = [cell.strip().replace("\\|", "|") for cell in _CELL.split(line.strip().strip("|"))]
        if all(re.fullmatch(r":?-+:?", cell) for cell in cells):
            continue
        if not columns:
            columns = len(cells)
            if [cell.casefold() for cell in cells[:2]] != ["term", "meaning"]:
                notes.error(
                    (number, 1),
                    "terms-heading",
                    "not the heading that is meant",
                    "write | term | meaning | source |",
                )
                return ()
            continue
        _add_term(terms, cells, (number, 1), notes)
    if text is not None and not terms and text.strip():
        notes.finding((1, 1), "terms-empty", "no table of terms is here", "write | term | meaning | source |")
    return tuple(terms.values())


def _add_term(terms: dict[str, Term], cells: list[str], where: Where, notes: Notes) -> None:
    names = tuple(name.strip() for name in cells[0].split(",") if name.strip())
    meaning = cells[1] if len(cells) > 1 else ""
    if not names or not meaning:
        notes.error(where, "term-empty", "a term or its meaning is missing", "fill in both cells")
        return
    if names[0].casefold() in terms:
        notes.error(where, "term-twice", f'the term "{names[0]}" is there twice', "keep one row")
        return
    terms[names[0].casefold()] = Term(names=names, meaning=meaning, source=cells[2] if len(cells) > 2 else "", own=True)


def read_page(path: Path, uri: str, notes: Notes) -> FreePage | None:
    """A free page: Markdown, with or without front matter (`title`, `draft`). None for a draft."""
    text = read_text(path, notes)
    if text is None:
        return None
    if text.lstrip("\n").startswith("---"):
        split = split_front_matter(text, notes)
        if split is None:
            return None
    else:
        split = Split(fields=Fields(pairs=(), where=(1, 1)), body=text, body_line=1)
    form = Form(split.fields, notes, ("title", "draft"))
    title, body = title_of(form, split, path.stem)
    check_private_blocks(body, split.body_line, notes)
    if form.flag("draft"):
        return None
    return FreePage(id=path.stem, src_uri=uri, title=title, body=body, body_line=split.body_line)
