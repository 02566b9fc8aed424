"""Every private place of a build bears a mark; no mark may come to light in anything public.

By hand: `MARK_BODIES=10000 MARK_SEED=7 pytest -m slow -s tests/test_private_marks.py`.
"""

from __future__ import annotations

import ast
import gzip
import importlib
import inspect
import os
import re
import shutil
import types
import zlib
from collections.abc import Iterator
from datetime import date
from html import unescape
from pathlib import Path
from random import Random
from urllib.parse import unquote

import pytest
from click.testing import CliRunner
from making import STEPS_CSV
from PIL import Image

from journal.commands.main import main
from journal.ledger.journal import Journal, open_journal
from journal.making import link_cards
from journal.reading.remembered import Remembered
from journal.site.cards import LinkCard
from journal.view import view as the_view

SEED = int(os.environ.get("MARK_SEED", "20261127"))
BODIES = int(os.environ.get("MARK_BODIES", "1000"))
"""A tenth of what is done by hand."""

A_BUILD = 250
PRIVATE, PUBLIC = "zqp", "zqk"
"""What private and public marks begin with. They are consonants, so that no stemmer shortens them."""

LETTERS = "bcdfghjklmnpqrtvwx"
TODAY = date(2026, 6, 1)

BUILD_YML = """\
aircraft: {name: Tarn, registration: ZQP-RG, serial: ZQP-0042}
begun: 2026-01-10
people:
  zqpada: {name: Ada Zqpbergstrom, shown_as: Ada, role: builder}
  zqpbo: {name: Zqpbo Zqplindqvist, role: builder}
  insp: {name: Zqpines Zqppetrov, role: inspector}
places:
  home: {name: Zqpgarage at Zqpostrindel}
assemblies:
  flaps: {title: Flaps, planned_hours: 60}
  left-wing: {title: Left wing, planned_hours: 200}
"""
TABLES = {
    "records/records.csv": "file,date,kind,title,note\nbill.txt,2026-01-02,invoice,zqp bill,zqp note\n",
    "records/bill.txt": "zqp paid",
    "costs.csv": "date,assembly,what,amount,currency,record\n2026-01-02,flaps,zqp crate,900,CHF,\n",
    "inventory.csv": "crate,part,description,listed,found,claimed_on,promised_for,replacement_note\n"
    "1,W-1,Rib,2,1,2026-01-03,2026-02-01,zqp promise\n",
    "rates.csv": "date,currency,to,rate,source\n2026-01-01,CHF,EUR,1.05,zqp bank\n",
    "tasks.csv": "section,task,name,maker,paid,assembly,fabrication,steps,note\nA,1,zqp task,0,0,10,0,5.1,zqp note\n",
    "materials.csv": "id,name,batch,expires,record\nm1,Sealant,zqp-batch,2026-12-01,\n",
    "inspections/2026-03-01-zqpclosing/index.md": (
        "---\ndate: 2026-03-01\nsteps: [5.4]\ninspector: insp\noutcome: passed with findings\nprivate: true\n"
        "findings:\n  - {id: a, text: zqp burr}\n---\n\nzqp look\n"
    ),
    "measurements/2026-03-02-zqpweighing/index.md": (
        "---\ndate: 2026-03-02\nmeasured_by: zqpada\nchecked_by: zqpbo\nprivate: true\ninstrument: zqp scale\n"
        "results:\n  - {what: zqp gap, value: zqp wide}\ndatum: zqp nose\n"
        "scales: [{at: zqp wheel, weight: 2 lb, arm: 3 in}]\n---\n\nzqp weighed\n"
    ),
    "bulletins.csv": "id,date,title,concerns,state\nzqp-1,2026-03-02,zqp bulletin,flaps,done\n",
    "pages/about.md": "# About\n\nzqkabout\n\n!!! private\n    zqp page\n\n<!-- zqp -->\n",
}


class Writer:
    """Writes bodies and front matter at random; counts its marks."""

    def __init__(self, seed: int) -> None:
        self.draw = Random(seed)
        self.images = ["IMG_1.png", "IMG_2.png", "IMG 3.png"]
        self.hidden = f"{PRIVATE} only.png"

    def mark(self, kind: str = PRIVATE) -> str:
        """A word that stands nowhere else."""
        return kind + "".join(self.draw.choice(LETTERS) for _ in range(6))

    def image(self, *, hidden: bool = False) -> str:
        """A picture of the folder as Markdown names it; one of them stands in private places only."""
        return self.draw.choice([*self.images, *[self.hidden] * 2 * hidden]).replace(
            " ", self.draw.choice([" ", "%20"])
        )

    def secret(self) -> str:
        """Something private to say, in every kind of Markdown."""
        m, n, image = self.mark(), self.mark(), self.image(hidden=True)
        return self.draw.choice(
            [
                f"{m} words and {n}",
                f"{m} one line\nand {n} the next",
                f"{m}\n\n{n} another paragraph",
                f"- {m}\n- {n}",
                f"1. {m}\n2. {n}",
                f"```\n{m}\n```",
                f"    {m} code",
                f"![{m} caption]({image})",
                f'![{m} caption]({image} "{n}")',
                f'![{m}][ref{m}]\n\n[ref{m}]: {image.replace(" ", "%20")} "{n}"',
                f"![{m}][pic]",
                f"![]({image})",
                f"[{m}](https://tarn.example/{n})",
                f"<https://tarn.example/{n}>",
                f"## {m}",
                f"{m}\n=====",
                f"| {m} | a |\n|---|---|\n| {n} | b |",
                f'!!! note "{m}"\n    {n}',
                f"> {m}\n> {n}",
                f"said[^{m}]\n\n[^{m}]: {n}",
                f"`{m}` and a stray ` {n}",
                f"{m} &amp; <b>{n}</b>",
                f'[lab{m}]: https://tarn.example/{n} "{m}"',
                f"**{m}** _{n}_ ~~{m}~~",
                f"<!-- {m} --> {n}",
                f"{m} !!! private {n}",
            ]
        )

    def opening(self) -> str:
        """How a private passage opens, rightly or nearly so."""
        return self.draw.choice(
            ["!!! private"] * 30
            + [
                "!!! Private",
                "!!! PRIVATE",
                "!!!private",
                "??? private",
                "???+ private",
                "!!! private danger",
                "!!! prviate",
            ]
            + [f'!!! private "{self.mark()}"', f"!!! private {self.mark()}", f"!!! private: {self.mark()}"]
            + [
                "！！！ private",
                "!!!\u00a0private",
                "!!! pri\u00advate",
                "!!! note private",
                "!! private",
                "!!! privat",
            ]
            + ["**!!! private**", "<!-- x -->!!! private", "!!!  private", "!!! privte", "\\!!! private"]
        )

    def passage(self) -> str:
        """A private passage in some container."""
        lines = self.secret().split("\n")
        indent = self.draw.choice(["    "] * 6 + ["\t", "        ", "  ", ""])
        block = [self.opening()]
        if self.draw.random() < 0.2 and indent:
            block.append("")
        block += [f"{indent}{line}" if line else "" for line in lines]
        if indent and self.draw.random() < 0.15:
            block += [f"{self.mark()} wrapped by an editor"]
        if indent and self.draw.random() < 0.05:
            block += ["<!--", "", "x -->", f"{indent}{self.mark()} behind a comment"]
        container = self.draw.choice(
            ["none"] * 6 + ["quote", "list", "number", "note", "foot", "item", "deep", "fence"]
        )
        if container == "quote":
            gap = self.draw.choice(["> ", ""])
            return "\n".join(f"> {line}" if line else gap for line in block)
        if container in ("list", "number", "foot"):
            first = {"list": "- ", "number": "1. ", "foot": "[^f]: "}[container]
            return first + "\n    ".join(block)
        if container == "note":
            return "!!! note\n    " + "\n    ".join(block)
        if container == "item":
            return "- public item\n\n    " + "\n    ".join(block)
        if container == "deep":
            return "> - " + "\n>     ".join(block)
        return "```\n" + "\n".join(block) + "\n```" if container == "fence" else "\n".join(block)

    def comment(self) -> str:
        """A comment, which is private as well."""
        m = self.mark()
        return self.draw.choice(
            [
                f"<!-- {m} -->",
                f"<!--\n{m}\n\n{m} more\n-->",
                f"before <!-- {m} --> after",
                f"<!-- ![{m}]({self.image(hidden=True)}) -->",
                f"- item <!-- {m} -->",
                f"<!-- !!! private\n    {m} -->",
                f"`<!-- {m} -->`",
                f"```\n<!-- {m} -->\n```",
            ]
        )

    def public(self) -> str:
        """Something for everybody, and what may confuse a reader."""
        m, image = self.mark(PUBLIC), self.image()
        return self.draw.choice(
            [
                f"{m} public words",
                f"{m} public words\nin two lines",
                f"- {m}\n- item",
                f"## {m}",
                f"![{m}]({image})",
                f"![]({image})",
                f"![{m}][pic]",
                f"[{m}][pic]",
                f"```\n{m}\n```",
                f"```\n{m} never closed",
                f"a stray ` and {m}",
                f"{m} `` two",
                f"> {m}",
                f"| {m} | a |\n|---|---|\n| b | c |",
                f'!!! note "{m}"\n    more',
                f"{m}!! Really?? Yes.",
                f"said[^f] {m}",
                f"* * *\n\n{m}",
                f"<div> {m}",
                f"1. {m}\n\n    more of it",
            ]
        )

    def body(self) -> str:
        """Some blocks of each, mostly with blank lines between."""
        kinds = [self.passage, self.passage, self.comment, self.public, self.public]
        blocks = [self.draw.choice(kinds)() for _ in range(self.draw.randrange(2, 6))]
        text = "\n\n".join([self.public(), *blocks])
        return text + (f"\n\n[pic]: {self.images[0]}\n" if self.draw.random() < 0.5 else "\n")

    def matter(self, day: int) -> str:
        """The front matter of a public entry with private things in it."""
        date_ = f"2026-{1 + day // 28 % 5:02}-{1 + day % 28:02}"
        lines = [f"title: {self.mark(PUBLIC)}", f"date: {date_}", "assembly: flaps", "hours: 1:00", "place: home"]
        lines.append("people: [zqpada, zqpbo]")
        m = self.mark()
        if self.draw.random() < 0.3:
            lines.append(f"answers: {{no-photo: {m} said}}")
        if self.draw.random() < 0.4:
            one = self.draw.choice(
                [
                    *[f"{{private: true, caption: {m}}}"] * 5,
                    f"{{private, caption: {m}}}",
                    f"{{caption: {m}, private: yes}}",
                    f"\n    caption: {m}\n    private:",
                    f"\n    private: true\n    caption: {m}",
                    f"{{private: 'on', caption: '{m}'}}",
                    "{people: [zqpbo], inside: true}",
                ]
            )
            lines.append(f"photos:\n  {self.draw.choice(self.images)}: {one}")
        if self.draw.random() < 0.2:
            lines.append(f"materials: [m1]  # {m}")
        return "\n".join(lines)

    def kept_back(self, day: int) -> str:
        """The front matter of an entry that is private as a whole, or in doubt."""
        flag = self.draw.choice(
            ["private: true", "draft: true"] * 4
            + ["private: yes", "private:", "private: # true", "private: [true]", "private: maybe", "draft:"]
            + ["private: 'true'", "private: True"]
        )
        m = self.mark()
        return f"title: {m}\ndate: 2026-01-{1 + day % 28:02}\nassembly: flaps\nsteps: [5.1]\n{flag}\ntools: [{m} drill]"

    def write(self, root: Path, bodies: int) -> None:
        """A build folder of so many entries, every eighth private as a whole."""
        shutil.rmtree(root, ignore_errors=True)
        for name, text in {"build.yml": BUILD_YML, "steps.csv": STEPS_CSV, **TABLES}.items():
            (root / "content" / name).parent.mkdir(parents=True, exist_ok=True)
            (root / "content" / name).write_text(text, "utf-8")
        (root / "mkdocs.yml").write_text(
            "site_name: Marks\nsite_url: https://tarn.example/\ndocs_dir: content\n"
            "theme: {name: material, font: false}\nplugins: [search, journal]\n"
        )
        picture = Image.new("RGB", (48, 32), (90, 120, 160))
        for number in range(bodies):
            hidden = number % 8 == 3
            folder = root / "content/entries" / f"{PRIVATE if hidden else 'e'}{number:04}"
            folder.mkdir(parents=True)
            matter = self.kept_back(number) if hidden else self.matter(number)
            body = f"{self.mark()} of a private entry" if hidden else self.body()
            (folder / "index.md").write_text(f"---\n{matter}\n---\n\n{body}", "utf-8")
            for image in (*self.images, *([self.hidden] if PRIVATE + " only" in body or "%20only" in body else [])):
                picture.save(folder / image)


def opened(root: Path) -> Journal:
    """The journal, read anew by the rules of the moment."""
    return open_journal(root, TODAY, remembered=Remembered())


def shown(view: object) -> str:
    """Everything that a view holds, folded; names of files are looked for on the site."""
    return re.sub(r"src_uri='[^']*'", "", repr(view)).casefold()


def leaks_in(text: str, mark: str = PRIVATE) -> list[str]:
    """Marks that came to light, each with what stands around it."""
    return [text[max(0, at.start() - 60) : at.end() + 40] for at in re.finditer(mark, text)]


def readings(data: bytes) -> Iterator[str]:
    """The bytes of a file as text in every way in which words may lie in it."""
    for raw in (data, *(_unpacked(piece) for piece in re.findall(rb"stream\r?\n(.*?)endstream", data, re.DOTALL))):
        text = raw.decode("utf-8", "replace")
        for read in (text, unescape(unquote(text)), re.sub(r"\\u([0-9a-f]{4})", lambda f: chr(int(f[1], 16)), text)):
            yield read.casefold()
    if data[:2] == b"\x1f\x8b":
        yield from readings(gzip.decompress(data))


def _unpacked(piece: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(piece)
    except zlib.error:
        return piece


def drop_unreadable(root: Path, journal: Journal) -> int:
    """Take away the entries with errors, which would stop the site; how many."""
    folders = {Path(problem.file).parent for problem in journal.problems if problem.grade.value == "error"}
    for folder in folders:
        shutil.rmtree(root / folder)
    return len(folders)


@pytest.mark.slow
def test_no_mark_comes_to_light(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the public view, and in every file of the site: pages, feeds, data, search, pictures, words of cards."""
    drawn: list[LinkCard] = []
    render = link_cards.render_link_card
    monkeypatch.setattr(link_cards, "render_link_card", lambda card: (drawn.append(card), render(card))[1])
    counted = public = refused = 0
    for number in range(-(-BODIES // A_BUILD)):
        root = tmp_path / "b"
        Writer(SEED + number).write(root, min(A_BUILD, BODIES))
        journal = opened(root)
        found = leaks_in(shown(the_view.open_view(journal, the_view.Audience.PUBLIC)))
        assert not found, (SEED + number, found[:3])
        refused += drop_unreadable(root, journal)
        assert not [one for one in opened(root).problems if one.grade.value == "error"]
        result = CliRunner().invoke(main, ["site", "--build", str(root)])
        assert result.exit_code == 0, result.output[-2000:]
        for path in sorted((root / "site").rglob("*")):
            name = path.relative_to(root / "site").as_posix()
            assert PRIVATE not in name.casefold(), (SEED + number, name)
            if path.is_file() and path.suffix not in (".woff2", ".css"):
                data = path.read_bytes()
                # In a million bytes of a picture any three letters come up by chance.
                mark = f"{PRIVATE}[{LETTERS}]{{6}}" if path.suffix in (".jpg", ".png") else PRIVATE
                found = [one for text in readings(data) for one in leaks_in(text, mark)]
                assert not found, (SEED + number, name, found[:2])
                public += data.count(PUBLIC.encode()) if path.suffix == ".html" else 0
        counted += min(A_BUILD, BODIES)
    assert not [card for card in drawn if leaks_in(repr(card).casefold())]
    assert drawn
    assert public > counted
    print(f"\n{counted} bodies, seed {SEED}: no mark; {refused} entries refused, {public} public marks on pages")


# ------------------------------------------------------------------------------------------ each rule is needed

PASSAGES, FOLDERS, FORM = "journal.base.private_passages", "journal.reading.folders", "journal.reading.form"
VIEW = "journal.view.view"
RULES = {
    "marks in containers": (PASSAGES, r"(?:[ \t]|>|[-*+](?=[ \t])|", r"(?:[ \t]|(?=z)z|"),
    "what is indented": (PASSAGES, "_indent(inside) > depth:", "_indent(inside) > depth + 99:"),
    "what only lacks its indent": (PASSAGES, "anew = after_blank or bool(_BEGINS", "anew = True or bool(_BEGINS"),
    "what is quoted": (PASSAGES, 'quotes = opened["containers"].count(">")', "quotes = 0"),
    "slips of the mark": (PASSAGES, ">= _LIKENESS", "> 1"),
    "characters nobody sees": (PASSAGES, "plain(line)))", "line))"),
    "comments": (PASSAGES, 'COMMENT.sub("", _without(body, private))', "_without(body, private)"),
    "marks behind comments": (
        PASSAGES,
        "_mark(other) or _mark(line)",
        "_mark(line) if not re.match('[ ]*<', line) else None",
    ),
    "passages around comments": (PASSAGES, "private = [one or other", "private = [one and one"),
    "pictures named in private": (FOLDERS, "if passages.names(name)", "if False and passages.names(name)"),
    "private captions": (FOLDERS, "if (image.target, image.caption) in public:", "if True:"),
    "flags in doubt": (FORM, "        where = node.where if", "        return False\n        where = node.where if"),
    "private entries": (VIEW, "if everything or not entry.private]", "if True]"),
    "drafts": (VIEW, "if audience is Audience.PREVIEW:", "if True:"),
    "private inspections": (VIEW, "if everything or not inspection.private", "if True"),
    "private measurements": (VIEW, "if everything or not measurement.private", "if True"),
    "private photos": (VIEW, "[photo for photo in photos if everything or not photo.private]", "list(photos)"),
    "names": (VIEW, "person.name if everything else person.public_name", "person.name"),
    "registration": (
        VIEW,
        'build.aircraft.registration if "registration" in build.shows else ""',
        "build.aircraft.registration",
    ),
    "serial": (VIEW, 'build.aircraft.serial if "serial" in build.shows else ""', "build.aircraft.serial"),
    "places": (VIEW, 'shows_place = everything or "places" in build.shows', "shows_place = True"),
    "answers": (VIEW, "answers=entry.answers if everything else {}", "answers=entry.answers"),
    "materials": (
        VIEW,
        "build.materials[material] if everything else _public_material",
        "build.materials[material] if True else _public_material",
    ),
    "claims": (VIEW, "item if everything else _public_item(item, names)", "item"),
    "bodies": (VIEW, '"body": told.body if everything else _public_body(told)', '"body": told.body'),
    "pages": (VIEW, "page if everything else replace(page, body=cut_private(page.body))", "page"),
    "what is for the archive": (
        VIEW,
        "if not everything:\n        return shown",
        "if not everything:\n        return replace(shown, costs=build.costs)",
    ),
}


def mutated(name: str, old: str, new: str) -> Iterator[None]:
    """The module with one rule taken out, in place: each function gets the code of its twin; put back afterwards."""
    module = importlib.import_module(name)
    source = inspect.getsource(module)
    assert source.count(old) >= 1, f"{name} has no {old!r}"
    twin = types.ModuleType(name)
    exec(compile(source.replace(old, new), str(module.__file__), "exec"), twin.__dict__)
    kept = dict(module.__dict__)
    pairs = [(found_in(module, path), found_in(twin, path)) for path in functions_of(source)]
    codes = [function.__code__ for function, _ in pairs]
    for function, changed in pairs:
        function.__code__ = changed.__code__
    module.__dict__.update({key: one for key, one in vars(twin).items() if isinstance(one, re.Pattern)})
    yield
    for (function, _), code in zip(pairs, codes, strict=True):
        function.__code__ = code
    module.__dict__.update(kept)


def functions_of(source: str) -> Iterator[tuple[str, ...]]:
    """The names of the functions, and of the methods behind those of their classes."""
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef):
            yield (node.name,)
        elif isinstance(node, ast.ClassDef):
            yield from ((node.name, one.name) for one in node.body if isinstance(one, ast.FunctionDef))


def found_in(module: types.ModuleType, path: tuple[str, ...]) -> types.FunctionType:
    """A function of a module, without what decorates it."""
    found: object = module
    for part in path:
        found = vars(found)[part]
    found = getattr(found, "func", None) or getattr(found, "fget", None) or found
    plain = inspect.unwrap(found)  # type: ignore[arg-type]
    assert isinstance(plain, types.FunctionType), path
    return plain


def is_tight(root: Path) -> bool:
    """Whether the public view of a fresh reading holds no mark."""
    clear_memory()
    return not leaks_in(shown(the_view.open_view(opened(root), the_view.Audience.PUBLIC)))


def clear_memory() -> None:
    """Forget bodies judged under other rules."""
    importlib.import_module(PASSAGES).find_passages.cache_clear()


@pytest.mark.slow
@pytest.mark.parametrize("rule", RULES)
def test_every_rule_of_the_border_is_needed(tmp_path: Path, rule: str) -> None:
    """Without any one of them marks come to light, or the second judgement has to refuse what could be cut."""
    root = tmp_path / "b"
    name, old, new = RULES[rule]
    for seed in range(SEED, SEED + 8):
        Writer(seed).write(root, 200)
        refused = sum(one.word == "private-unclear" for one in opened(root).problems)
        assert is_tight(root)
        change = mutated(name, old, new)
        next(change)
        try:
            tight = is_tight(root)
            refused_then = sum(one.word == "private-unclear" for one in opened(root).problems)
        finally:
            next(change, None)
            clear_memory()
        if not tight or refused_then > refused:
            return
    pytest.fail("no body needs this rule")
