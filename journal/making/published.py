"""Addresses that were published: noted when a site is sent, so that one which would vanish is told before it does."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from hashlib import sha256
from pathlib import Path

from journal.base.model import Assembly, FreePage, Step
from journal.base.problems import Problem, finding
from journal.base.safe_write import write_whole
from journal.making.unchanged import PUBLISHED
from journal.view.page_addresses import ASSEMBLIES, STEPS, Named, PageAddresses

Known = Mapping[str, Iterable[str]]
"""Address of a page -> what it may be known by under another name: its day, the digests of its text and pictures."""


_NOW = "now "
"""Before the address that a former one led on to."""


def note_published(root: Path, addresses: PageAddresses) -> None:
    """Note down the pages that can be renamed, now that they are sent; a note that says so already is left alone."""
    known = {address: [*_marks(one)] for _, address, one in addresses.named_pages()}
    known |= {former: [f"{_NOW}{today}"] for former, today in addresses.redirects.items()}
    data = json.dumps({"pages": known}, sort_keys=True).encode()
    file = root / PUBLISHED
    if not file.is_file() or file.read_bytes() != data:
        write_whole(file, data, cache=True)


def read_published(root: Path) -> Known | None:
    """What was noted when the site was sent last; None where it never was, or the note makes no sense."""
    try:
        pages = json.loads((root / PUBLISHED).read_bytes())["pages"]
        return {str(address): [str(mark) for mark in marks] for address, marks in pages.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def pages_in(files: Iterable[str], addresses: PageAddresses) -> Known:
    """Those of the `files` of a site that are pages which can be renamed."""
    kinds = "|".join(re.escape(base) for base in addresses.bases)
    page = re.compile(rf"((?:{kinds})(?!year-\d{{4}})[^/]+/)index\.html")
    return {found[1]: () for file in files if (found := page.fullmatch(file))}


def check_published(known: Known, addresses: PageAddresses) -> tuple[Problem, ...]:
    """A finding for each page that was published, is not made any more, and from which nothing leads on."""
    pages = [*addresses.named_pages()]
    there = {address for _, address, _ in pages} | addresses.redirects.keys()
    fresh = [(base, one, {*_marks(one)}) for base, address, one in pages if address not in known]
    problems = []
    for address in sorted(known.keys() - there):
        base, _, name = address.rstrip("/").rpartition("/")
        marks = {*known[address], *re.findall(r"^\d{4}-\d\d-\d\d", name)}
        alike = sorted(
            ((len(marks & theirs), one) for of, one, theirs in fresh if of == f"{base}/"), key=lambda row: row[0]
        )
        most = alike[-1][0] if alike else 0
        guesses = [one for _, now, one in pages if f"{_NOW}{now}" in marks]
        guesses = guesses or [one for count, one in alike if count == most > 0]
        mend = f"`formerly: {name}`" if f"{base}/" != STEPS else f"{name} in its column `formerly`"
        if len(guesses) == 1:
            file, hint = _file_of(guesses[0]), f'if "{guesses[0].id}" is its new name, write {mend} there'
        else:
            file = {ASSEMBLIES: "content/build.yml", STEPS: "content/steps.csv"}.get(f"{base}/", f"content/{address}")
            hint = f"if it was renamed, write {mend} under its new name; if it was taken back, let it go"
        said = f'the address "{address}" was published and would vanish'
        problems.append(finding(file.rstrip("/"), None, "address-vanished", said, hint))
    return tuple(problems)


def _marks(one: Named) -> Iterator[str]:
    if isinstance(one, Step | Assembly):
        yield one.title
        return
    yield sha256(one.body.encode()).hexdigest()[:16]
    if not isinstance(one, FreePage):
        yield one.date.isoformat()
        yield from sorted({photo.sha256[:16] for photo in one.photos if photo.sha256})


def _file_of(one: Named) -> str:
    if isinstance(one, Step | Assembly):
        return "content/steps.csv" if isinstance(one, Step) else "content/build.yml"
    return one.src_uri
