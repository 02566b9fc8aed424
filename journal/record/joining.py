"""Parts of a document, each set on its own, joined into one PDF: sheets, links, outline and tags.

A document of a thousand entries set in one piece takes several gigabytes of memory; in parts it
takes what one part takes, however long it is. What the compiler wrote is kept as it is; joined are
the things that a PDF has once: the page tree, the outline (ISO 32000-1, 12.3.3), named destinations
(12.3.2.3) and the structure tree with its parent tree and ID tree (14.7).

Links from one part into another are written as addresses `binder:LABEL` and turned into
destinations here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from hashlib import sha256
from pathlib import Path
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name, OutlineItem, Pdf, String

LINK = "binder:"
"""What an address begins with that means a label of the document itself."""


def labels_of(path: Path) -> tuple[int, dict[str, int]]:
    """(number of sheets, label -> sheet from 0) of one part."""
    with Pdf.open(path) as pdf:
        pages = {page.obj.objgen: number for number, page in enumerate(pdf.pages)}
        return len(pages), {name: pages[dest[0].objgen] for name, dest in _named(pdf)}


def join_parts(parts: Sequence[tuple[Path, bool]], out: Path) -> None:
    """Write the parts as one document at `out`; the same parts give the same bytes. Each is a file, and whether its
    outline goes on below the last heading of the part before.

    Title, language, colour profile and claims are those of the first part, which all share.
    """
    with ExitStack() as opened:
        pdfs = [opened.enter_context(Pdf.open(path)) for path, _ in parts]
        whole = pdfs[0]
        joined = _Joined(whole)
        for number, (pdf, (_, continues)) in enumerate(zip(pdfs, parts, strict=True)):
            joined.add(pdf, number, continues=continues)
        joined.finish()
        whole.save(
            out,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            deterministic_id=True,
            fix_metadata_version=False,
        )


class _Joined:
    def __init__(self, whole: Pdf) -> None:
        self._whole = whole
        self._parents: list[Any] = []
        self._next_parent = 0
        self._elements: list[Any] = []
        self._ids: list[tuple[bytes, Any]] = []
        self._roles: dict[str, Any] = {}
        self._outline: list[OutlineItem] = []
        self._labels: dict[str, Array] = {}

    def add(self, pdf: Pdf, number: int, *, continues: bool) -> None:
        """Take over everything of one part; the first is the document itself."""
        first_page = 0 if pdf is self._whole else len(self._whole.pages)
        pages = {page.obj.objgen: first_page + at for at, page in enumerate(pdf.pages)}
        used = _shift_parents(pdf, self._next_parent)
        if number:
            _rename_ids(pdf, f"{number}-")
        items = pdf.open_outline().root
        labels = dict(_named(pdf))
        if pdf is self._whole:
            root = pdf.Root.StructTreeRoot
        else:
            self._whole.pages.extend(pdf.pages)
            root = self._whole.copy_foreign(pdf.Root.StructTreeRoot)
        self._take_structure(root, self._next_parent)
        self._next_parent += used
        self._lead_here(items, pages)
        if continues and self._outline:
            self._outline[-1].children += items
        else:
            self._outline += items
        self._labels |= {name: self._here(dest, pages) for name, dest in labels.items()}

    def _here(self, dest: Any, pages: Mapping[tuple[int, int], int]) -> Array:
        """A destination in one part as one in the whole, free of the file it came from."""
        view = [Name(str(value)) if isinstance(value, Name) else value for value in list(dest)[1:]]
        return Array([self._whole.pages[pages[dest[0].objgen]].obj, *view])

    def _lead_here(self, items: Iterable[OutlineItem], pages: Mapping[tuple[int, int], int]) -> None:
        for item in items:
            item.destination = self._here(item.action.D if item.action else item.destination, pages)
            self._lead_here(item.children, pages)

    def _take_structure(self, root: Any, offset: int) -> None:
        for document in _many(root.K):
            self._elements += _many(document.K)
        for key, value in _pairs(root.ParentTree.Nums):
            self._parents += [int(key) + offset, value]
        if "/IDTree" in root:
            self._ids += [(bytes(key), value) for key, value in _pairs(root.IDTree.get("/Names", []))]
        if "/RoleMap" in root:
            self._roles |= dict(root.RoleMap.items())

    def finish(self) -> None:
        """Write what a document has once."""
        whole = self._whole
        root = whole.Root.StructTreeRoot
        document = _many(root.K)[0]
        document.K = Array(self._elements)
        for element in self._elements:
            element.P = document
        root.K = document
        root.ParentTree = whole.make_indirect(Dictionary(Nums=Array(self._parents)))
        root.ParentTreeNextKey = self._next_parent
        root.RoleMap = Dictionary(self._roles)
        if self._ids:
            ordered = sorted(self._ids, key=lambda pair: pair[0])
            names = Array([thing for key, element in ordered for thing in (String(key), element)])
            root.IDTree = whole.make_indirect(Dictionary(Names=names))
        labels = sorted(self._labels, key=lambda name: name.encode())
        places = Array([thing for name in labels for thing in (String(name), self._labels[name])])
        # What the first part carries, its attachments, stays.
        kept = whole.Root.get("/Names", Dictionary())
        kept.Dests = whole.make_indirect(Dictionary(Names=places))
        whole.Root.Names = kept
        whole.Root.Outlines = whole.make_indirect(Dictionary(Type=Name.Outlines))
        self._write_items(self._outline, whole.Root.Outlines, open_to=1)
        sheets = {page.obj.objgen: number for number, page in enumerate(whole.pages, start=1)}
        for link in (link for page in whole.pages for link in page.obj.get("/Annots", [])):
            action = link.get("/A")
            address = str(action.get("/URI", "")) if action is not None and action.get("/S") == Name.URI else ""
            if address.startswith(LINK):
                link.Dest = self._labels[address.removeprefix(LINK)]
                # What a screen reader says of it (ISO 14289-1, 7.18.5).
                link.Contents = String(f"sheet {sheets[link.Dest[0].objgen]}")
                del link["/A"]
        _count_pages(whole)

    def _write_items(self, items: Sequence[OutlineItem], parent: Any, *, open_to: int) -> int:
        """Write `items` below `parent`, those deeper than `open_to` folded; how many are to be seen."""
        before: Any = None
        seen = len(items)
        for item in items:
            line = self._whole.make_indirect(Dictionary(Title=String(item.title), Parent=parent, Dest=item.destination))
            if before is None:
                parent.First = line
            else:
                before.Next = line
                line.Prev = before
            if item.children:
                below = self._write_items(item.children, line, open_to=open_to - 1)
                line.Count = below if open_to > 1 else -len(item.children)
                seen += below if open_to > 1 else 0
            before = line
        if before is not None:
            parent.Last = before
        if parent.get("/Type") == Name.Outlines and items:
            parent.Count = seen
        return seen


def _many(value: Any) -> list[Any]:
    return list(value) if isinstance(value, Array) else [value]


def _pairs(tree: Any) -> Iterator[tuple[Any, Any]]:
    """Keys and values of a name tree or number tree (7.9.6, 7.9.7), which stand in turn in one array."""
    flat = list(tree)
    return zip(flat[::2], flat[1::2], strict=True)


def _named(pdf: Pdf) -> Iterator[tuple[str, Any]]:
    """(label, destination) of every named destination."""
    names = pdf.Root.get("/Names")
    if names is None or "/Dests" not in names:
        return
    for key, dest in _pairs(names.Dests.Names):
        yield str(key), dest if isinstance(dest, Array) else dest.D


def _shift_parents(pdf: Pdf, offset: int) -> int:
    """Raise every key into the parent tree by `offset`; how many keys the part uses."""
    if offset:
        for thing in pdf.objects:
            if isinstance(thing, (Dictionary, pikepdf.Stream)):
                for key in ("/StructParent", "/StructParents"):
                    if key in thing:
                        thing[key] = int(thing[key]) + offset
    return max((int(key) for key, _ in _pairs(pdf.Root.StructTreeRoot.ParentTree.Nums)), default=-1) + 1


def _rename_ids(pdf: Pdf, prefix: str) -> None:
    """Keep the IDs of one part's table heads apart from those of the others."""

    def renamed(text: Any) -> String:
        return String(prefix.encode() + bytes(text))

    for thing in pdf.objects:
        if not isinstance(thing, Dictionary) or thing.get("/Type") != Name.StructElem:
            continue
        if "/ID" in thing:
            thing.ID = renamed(thing.ID)
        for attributes in _many(thing.get("/A", Array([]))):
            if isinstance(attributes, Dictionary) and "/Headers" in attributes:
                attributes.Headers = Array([renamed(one) for one in attributes.Headers])
    tree = pdf.Root.StructTreeRoot.get("/IDTree")
    if tree is not None and "/Names" in tree:
        tree.Names = Array([thing for key, value in _pairs(tree.Names) for thing in (renamed(key), value)])


_PAGES = re.compile(rb"(<xmpTPg:NPages>)\d+(</xmpTPg:NPages>)")
_INSTANCE = re.compile(rb"(<xmpMM:InstanceID>)[^<]*(</xmpMM:InstanceID>)")


def _count_pages(whole: Pdf) -> None:
    """What the metadata says of this very document: the number of its pages, and an ID of its own."""
    metadata = whole.Root.Metadata
    text = metadata.read_bytes()
    text = _PAGES.sub(rb"\g<1>%d\g<2>" % len(whole.pages), text)
    text = _INSTANCE.sub(rb"\g<1>%s\g<2>" % sha256(text).hexdigest()[:32].encode(), text)
    metadata.write(text)
