"""Posts of earlier years: pages in HTML or Markdown with their pictures, and items of a feed, each a row of a table.

Only the words, links and pictures of a post come along: as Markdown in which nothing is HTML and nothing can hide.
Nothing is fetched: a picture behind an address is told.
"""

from __future__ import annotations

import contextlib
import os
import re
import tomllib
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from html import escape
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import quote, unquote, urlsplit
from zoneinfo import ZoneInfo

from bs4 import BeautifulSoup, Comment, Tag
from markdownify import MarkdownConverter

from journal.base.addresses import fold_name
from journal.base.formatting import cut_short, say_count, say_few
from journal.base.model import CLIP_ENDINGS, PICTURE_ENDINGS, Build
from journal.base.private_passages import find_passages
from journal.base.prose_tree import keep_drills
from journal.base.text_files import one_line
from journal.commands.intake.adoption import named_assembly
from journal.commands.intake.answers import Answers
from journal.commands.intake.columns import column_of
from journal.commands.intake.grids import FEEDS, HTML, MARKDOWN, read_any_text
from journal.commands.intake.lenient_parsing import DateOrder, parse_any_date, parse_any_hours
from journal.commands.intake.spreadsheet import PostPicture, SheetRow, Spreadsheet
from journal.reading.folders import natural_key
from journal.reading.text import Notes, is_there

_BESIDE = re.compile(r"_files$|-Dateien$|_fichiers$|^node_modules$", re.IGNORECASE)
"""Folders that browsers lay beside a saved page: pictures, and pages that are none."""

_NO = frozenset({"", "false", "no", "off", "0", "none", "null"})
_OPEN = frozenset({"", "publish", "published", "public", "final"})
_NO_POST = frozenset("index archive archives about contact sitemap search 404 tags categories readme home".split())  # noqa: SIM905
_NO_WORDS = ["script", "style", "noscript", "template", "nav", "aside", "footer", "form", "button", "select"]
_NO_WORDS += ["textarea", "svg", "canvas", "object", "head", "dialog"]
_AROUND = re.compile(
    r"(?:comments?|comment-?list|respond|replies|sidebar|widgets?|nav|navigation|menu|footer|share|sharing|sharedaddy|social|"
    r"related|related-posts|breadcrumbs?|pagination|pager|cookie\S*|ads?|advert\S*|(?:entry|post)-(?:meta|footer|info|tags)|"
    r"byline|tags|tag-links|cat-links|jp-\S+|screen-reader-text|skip-link)(?:-(?:area|section|list|links?|container|wrapper))?",
    re.IGNORECASE,
)
_BODIES = (".entry-content", ".post-content", ".post-body", ".e-content", "[itemprop=articleBody]", ".article-body")
_PUBLISHED = ", ".join(
    ["meta[property='article:published_time']", "meta[itemprop=datePublished]"]
    + [f"meta[name='{name}' i]" for name in ("pubdate", "date", "dc.date", "dcterms.date", "publish-date")]
)
_TIMES = ["time[pubdate], time[itemprop=datePublished], time.published, time.entry-date, time.dt-published", "time"]
_TIMES += [".date-header, .post-date, .entry-date, .posted-on, .date, .published"]
_HEADINGS = ("h1", ".entry-title, .post-title, [itemprop=headline]", "header h2", "h2 a")
_FILED = (
    "a[rel~=tag], a[rel~=category], .category, .tag, meta[property='article:section'], meta[property='article:tag'], "
)
_FILED += "meta[name=keywords]"
_BESIDE_POST = "nav, aside, footer, #comments, .comments, .comment-list, #sidebar, .sidebar, .widget, .related-posts"

_DAYS = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        r"(?<!\d)(?:19|20)\d\d(?P<sep>[-/._])\d{1,2}(?P=sep)\d{1,2}(?!\d)",
        r"(?<!\d)(?:19|20)\d\d(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?!\d)",
        r"(?<!\d)\d{1,2}(?:st|nd|rd|th|er|\.)?[\s_-]+(?:of\s+)?[^\W\d_]{3,9}\.?,?[\s_-]+(?:19|20)\d\d(?!\d)",
        r"(?<![^\W_])[^\W\d_]{3,9}\.?[\s_-]+\d{1,2}(?:st|nd|rd|th)?,?[\s_-]+(?:19|20)\d\d(?!\d)",
        r"(?<!\d)\d{1,2}(?P<sep>[-/._])\s?\d{1,2}(?P=sep)\s?(?:(?:19|20)\d\d|\d\d)(?!\d)",
    )
)
_OF_DAY = re.compile(
    r"posted|published|written|created|date|day|on|by|at|from|the|veröffentlicht|geschrieben|erstellt|datum|am|vom|den|"
    r"publié|écrit|posté|le|du|[^\W\d_]{2,7}(?:day|tag|di)|mittwoch|dimanche",
    re.IGNORECASE,
)
_SAID = re.compile(r"[-*•\\\s]*(?P<word>[^\W\d_][\w ()'./-]{0,30}?)[\s*_]*[:=][\s*_]*(?P<value>\S.*?)[\s*_.\\]*")
_CLOCK = re.compile(r"\d{1,2}:\d\d(?::\d\d)?")
_HIDES = re.compile(r"\\*(?:[!?❗❕¡]{2,}\+?|[:~]{3,}|[!❗❕¡](?= ?private)|(?<!`)private)", re.IGNORECASE)


@dataclass(slots=True)
class _Post:
    """A post as it is taken apart. `days` are what tells its day, the surest first; `words` its categories and tags."""

    file: Path
    root: Path
    shown: str
    soup: Any = None
    title: str = ""
    days: list[str] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    draft: bool = False
    pictures: list[PostPicture] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def read_posts(files: Sequence[Path], folders: Sequence[Path], answers: Answers, build: Build) -> Spreadsheet:
    """Every post of pages, feeds and folders of them, as a row."""
    reader = _Reader(answers, build)
    pages = [(file, file.parent) for file in files]
    for folder in folders:
        pages += [(file, folder) for file in _pages_below(folder)]
    for file, root in pages:
        reader.read(file, root, alone=len(pages) == 1)
    told = [f"Left out, for they are no posts or list posts: {say_few(reader.others, 8)}."] if reader.others else []
    unit, names = ("post" if reader.rows else "row"), tuple(file for file, _ in pages)
    return Spreadsheet(rows=tuple(reader.rows), unit=unit, told=tuple(told), files=names)


def _pages_below(folder: Path) -> Iterator[Path]:
    for here, folders, names in os.walk(folder):
        folders[:] = sorted((one for one in folders if one[0] != "." and not _BESIDE.search(one)), key=natural_key)
        for name in sorted(names, key=natural_key):
            if PurePosixPath(name).suffix.casefold() in HTML | MARKDOWN | FEEDS and not name.startswith("."):
                yield Path(here, name)


class _Words(MarkdownConverter):
    """Markdown as Python-Markdown takes it: with its own escapes, and four spaces before a list within a list."""

    def escape(self, text: str, parent_tags: Collection[str]) -> str:
        """Words that stay words."""
        text = re.sub(r"[\\`*_\[\]]|~(?=~)" + ("|[|]" if {"td", "th"} & set(parent_tags) else ""), r"\\\g<0>", text)
        text = re.sub(r"<(?=[a-z/!?])", "&lt;", re.sub(r"&(?=#?\w+;)", "&amp;", text), flags=re.IGNORECASE)
        return re.sub(r"^(\s*)([#>+-]|!(?=!!)|\d+(?=[.)]\s))", _escaped, text, flags=re.MULTILINE)

    def convert_li(self, element: Any, text: str, parent_tags: object) -> str:
        """An item of a list, its further lines and lists indented."""
        before = len(element.find_previous_siblings("li"))
        ordered = element.parent is not None and element.parent.name == "ol"
        start = str(element.parent.get("start") or "") if ordered else ""
        bullet = f"{before + (int(start) if re.fullmatch('[0-9]{1,6}', start) else 1)}." if ordered else "-"
        lines = text.strip().split("\n")
        return "\n".join([f"{bullet} {lines[0]}", *(f"    {line}" if line else "" for line in lines[1:])]) + "\n"


def _escaped(found: re.Match[str]) -> str:
    sign = found[2]
    return f"{found[1]}{sign}\\" if sign.isdigit() else f"{found[1]}\\{sign}"


class _Reader:
    """Reads posts one after the other; what is wrong stands in their rows."""

    def __init__(self, answers: Answers, build: Build) -> None:
        self.build, self.means = build, answers.means
        self.zone = ZoneInfo(build.zone) if build.zone else None
        self.rows: list[SheetRow] = []
        self.others: list[str] = []
        self.lying: dict[Path, dict[str, list[Path]]] = {}

    def read(self, file: Path, root: Path, *, alone: bool) -> None:
        """The post or posts of one file."""
        notes, ending = Notes(str(file)), file.suffix.casefold()
        post = _Post(file, root, file.relative_to(root).as_posix())
        try:
            text = read_any_text(file, notes) or ""
            if ending in FEEDS and re.search(r"<!ENTITY", text, re.IGNORECASE):
                notes.error((1, 1), "feed-unreadable", "it defines words of its own (<!ENTITY)", "take them out")
            kind = self._feed if ending in FEEDS else self._markdown if ending in MARKDOWN else self._page
            for one in kind(post, text, alone) if not notes.errors else ():
                self._add(one, alone=alone)
        except RecursionError:
            notes.error((1, 1), "too-deep", "its parts lie too deep in one another", "take it over by hand")
        if notes.errors:
            said = tuple(replace(one, message=f"{post.shown}: {one.message}") for one in notes.problems)
            self.rows.append(SheetRow(number=len(self.rows) + 1, line=1, cells={}, problems=said, file=post.shown))

    # -- kinds of files

    def _feed(self, file: _Post, text: str, alone: bool) -> Iterator[_Post]:
        import feedparser

        headers = {"content-type": "application/xml; charset=utf-8"}
        told = feedparser.parse(
            text.encode(), response_headers=headers, sanitize_html=False, resolve_relative_uris=False
        )
        posts = [item for item in told.entries if _is_post(item)]
        if len(posts) < len(told.entries) or not posts:
            self.others.append(f"{file.shown} ({say_count(len(told.entries) - len(posts), 'item')})")
        for number, item in enumerate(posts, start=1):
            post = _Post(file.file, file.root, f"{file.shown}, item {number}")
            words = max([one.value for one in item.get("content", ())] or [item.get("summary", "")], key=len)
            if not re.search(r"<(?:p|div|br|li)\b", words, re.IGNORECASE):  # blank lines alone part its paragraphs
                words = re.sub(r"\n[ \t]*\n", "<p>", words)
            words = re.sub(r"\[(/?)caption[^\]]*\]", r"<\1figure>", words)
            images = [one for one in item.get("enclosures", ()) if str(one.get("type", "")).startswith("image/")]
            shown = [f'<img src="{escape(str(one.get("href", "")))}">' for one in images]
            post.soup = BeautifulSoup("".join([words, *shown]), "lxml")
            post.title = one_line(BeautifulSoup(item.get("title", ""), "lxml").get_text())
            keys = ("wp_post_date", "published", "created", "updated")
            post.days = [day for key in keys if (day := dict.get(item, key))]
            post.words = [one.term for one in item.get("tags", ()) if one.get("term")]
            kept_back = item.get("wp_status", "publish") != "publish" or item.get("app_draft", "no") != "no"
            post.draft = kept_back or bool(item.get("wp_post_password"))
            yield post

    def _markdown(self, post: _Post, text: str, alone: bool) -> Iterator[_Post]:
        import markdown
        import yaml

        matter: dict[str, Any] = {}
        form = r"(---|\+\+\+)[ \t]*\n(?:(|.*?\n)(?:\1|\.\.\.)[ \t]*(?:\n|\Z))?"
        if found := re.match(form, text, re.DOTALL):
            try:
                read = yaml.load(found[2], Loader=yaml.BaseLoader) if found[1] == "---" else tomllib.loads(found[2])
                matter = {str(key).casefold(): value for key, value in (read or {}).items()}
            except (yaml.YAMLError, tomllib.TOMLDecodeError, AttributeError, TypeError):
                post.remarks.append("its front matter cannot be read, and is left out; in doubt it was kept back")
                matter = {"draft": "unknown"}
            text = text[found.end() :]
        # Of lists the texts alone: what is nested may be without end.
        lists = {key: value if isinstance(value, list) else [value] for key, value in matter.items()}
        told = {key: ["?" if isinstance(one, list | dict) else str(one) for one in told] for key, told in lists.items()}
        post.title = one_line(" ".join(told.get("title", ())))
        post.days = [day for key in ("date", "published", "created", "day") for day in told.get(key, ())]
        for key in ("categories", "category", "section", "tags", "tag", "assembly"):
            post.words += [word for one in told.get(key, ()) for word in re.split(r"[,;]", one)]
        said = {key: {one.casefold() for one in values} for key, values in told.items()}
        hides = [said.get(key, _NO) - _NO for key in ("draft", "private", "hidden", "unlisted", "password")]
        states = said.get("status", set()) | said.get("visibility", set())
        post.draft = any(hides) or bool(said.get("published", set()) & _NO or states - _OPEN)
        hours = "".join(f"\n\nHours: {one}" for one in told.get("hours", ()))
        parser = markdown.Markdown(extensions=["tables", "fenced_code", "sane_lists"])
        keep_drills(parser)
        post.soup = BeautifulSoup(parser.convert(f"{text}{hours}"), "lxml")
        yield post

    def _page(self, file: _Post, text: str, alone: bool) -> Iterator[_Post]:
        soup = BeautifulSoup(text, "lxml")
        for part in soup.select(_BESIDE_POST):
            part.decompose()
        articles = [
            one for one in soup.select("article") if one.get_text(strip=True) and not one.find_parent("article")
        ]
        if len(articles) > 1 and not alone:
            self.others.append(file.shown)
            return
        for number, part in enumerate(articles or [soup.find("main") or soup.body or soup], start=1):
            only = len(articles) < 2
            whole = soup if only else part
            post = _Post(file.file, file.root, file.shown if only else f"{file.shown}, post {number}")
            content = next((found for body in _BODIES if (found := part.select_one(body))), None)
            heading = next((one for form in _HEADINGS if (one := part.select_one(form))), None)
            heading = heading or (soup.find("h1") if only else None)
            site = re.split(r"\s+[|»–—-]\s+", one_line(soup.title.get_text()))[0] if soup.title else ""
            post.title = one_line(heading.get_text(" ")) if heading else site
            post.days = [str(one.get("content") or "") for one in whole.select(_PUBLISHED)]
            for one in (found for place in (part, whole) for form in _TIMES for found in place.select(form)):
                post.days.append(cut_short(str(one.get("datetime") or one.get_text(" ", strip=True)), 80))
            post.days += re.findall(r'"datePublished"\s*:\s*"([^"]+)"', str(whole))
            for one in whole.select(_FILED):
                post.words += [word.strip() for word in str(one.get("content") or one.get_text(" ")).split(",")]
            if heading and content is None:
                (heading.find_parent(["header", "h2"]) or heading).extract()
            post.soup = content or part
            yield post

    # -- one post

    def _add(self, post: _Post, *, alone: bool) -> None:
        body = self._words(post)
        lines = body.split("\n")
        if not post.title and (first := next((one for one in lines if one.startswith("#")), "")):
            post.title = one_line(re.sub(r"[#*_\\]", "", first))
            lines.remove(first)
        day = self._day(post, lines)
        if not day and not alone and post.file.stem.casefold() in _NO_POST:
            self.others.append(post.shown)
            return
        told = {"date": day, "hours": self._hours(post, lines), "assembly": self._assembly(post), "title": post.title}
        told["text"] = _quiet(re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip())
        notes = Notes(str(post.file))
        if not day:
            hint = "name its file like 2019-03-14-words, or write the day in its first line"
            notes.error((1, 1), "no-day", f"{post.shown}: no day is told in it, nor in its name", hint)
        # Before the title of a post that not everybody may read, some pages say so.
        post.draft |= bool(
            re.match(r"(?:private|protected|privat|geschützt|privé|protégé)\s?:", post.title, re.IGNORECASE)
        )
        if post.draft:
            post.remarks.append("it was kept back there, and becomes a draft")
        row = SheetRow(number=len(self.rows) + 1, line=1, cells={key: (text,) for key, text in told.items() if text})
        row = replace(row, problems=tuple(notes.problems), raw="\x1f".join([post.title, day, body]), file=post.shown)
        remarks, pictures = tuple(post.remarks), tuple(post.pictures)
        self.rows.append(replace(row, remarks=remarks, pictures=pictures, draft=post.draft))

    def _day(self, post: _Post, lines: list[str]) -> str:
        """What tells the day, in the words of the file; a line that tells nothing else leaves the text."""
        told = next((day for one in post.days if (day := self._local(one))), "")
        path = post.file.relative_to(post.root).with_suffix("") if post.file.suffix.casefold() not in FEEDS else Path()
        parts = [*reversed(path.parts), path.as_posix(), post.root.name]
        told = told or next((day for part in parts if (day := _day_in(part))), "")
        written = [place for place, line in enumerate(lines) if line.strip()]
        for place in (*written[:5], *written[5:][-3:]):
            line = lines[place]
            day = _day_in(line) if len(line) < 90 else ""
            rest = line.replace("\\", "")
            for form in _DAYS:
                rest = form.sub("", rest, count=1)
            if day and all(map(_OF_DAY.fullmatch, re.findall(r"\w+", rest))):
                lines[place] = ""
                told = told or day
            elif day and not told and len(rest) < 50:
                told = day
        return told

    def _local(self, text: str) -> str:
        """A moment as the day that it was in the place of the build; any other day as it is written."""
        try:
            moment = datetime.fromisoformat(text.strip())
        except ValueError:
            try:
                moment = parsedate_to_datetime(text)
            except (ValueError, TypeError, IndexError):
                return _day_in(text)
        if self.zone and moment.tzinfo and moment.utcoffset() == UTC.utcoffset(None):
            with contextlib.suppress(OverflowError):  # the first and the last year
                moment = moment.astimezone(self.zone)
        return moment.date().isoformat()

    def _hours(self, post: _Post, lines: list[str]) -> str:
        """The time worked that lines say (`Hours: 2.5`), taken out of the text."""
        told: dict[str, list[int]] = defaultdict(list)
        said = [
            (place, found)
            for place, line in enumerate(lines)
            if len(line) < 200 and (found := _SAID.fullmatch(line.strip()))
        ]
        for place, found in said:
            word, value = found["word"].strip("()"), found["value"].replace("\\", "")
            sure = re.search(r"h(?:ou)?rs?\b|std|stunden|heures?|dauer|duration|spent|worked", word, re.IGNORECASE)
            if column_of(word) == "hours" and parse_any_hours(value) and (sure or not _CLOCK.fullmatch(value)):
                told[value].append(place)
            elif column_of(word) == "hours" and sure:
                post.remarks.append(f'its hours cannot be told: "{cut_short(value, 40)}"')
        if len(told) > 1:
            post.remarks.append(f"its hours are told more than once, and are left out: {say_few(list(told))}")
        elif told:
            value, places = told.popitem()
            for place in places:
                lines[place] = ""
            return value
        return ""

    def _assembly(self, post: _Post) -> str:
        """The assembly that a category, a tag, a folder or, last, the title names."""
        path = post.file.relative_to(post.root)
        folders = [*reversed(path.parent.parts), post.root.name, "" if path.suffix in FEEDS else path.stem]
        places = {"": post.words, " (from its folder or file)": folders, " (from its title)": [post.title]}
        for why, text in ((why, text) for why, texts in places.items() for text in texts):
            if meant := named_assembly(text, self.build, self.means):
                post.remarks += [f"Assembly: {meant}{why}"] if why else []
                return meant
        return ""

    # -- its words

    def _words(self, post: _Post) -> str:
        """The words of a post as Markdown, its pictures as signs that stand for their place."""
        soup = post.soup
        hidden = [one for one in soup.find_all(string=lambda text: isinstance(text, Comment)) if one.strip()]
        if hidden and post.file.suffix.casefold() in MARKDOWN:
            post.remarks.append("a comment that no reader saw is left out")
        for one in soup.find_all(string=lambda text: type(text).__name__ != "NavigableString"):
            one.extract()
        for frame in soup.find_all("iframe"):
            link = Tag(name="a", attrs={"href": str(frame.get("src") or "")})
            link.string = str(frame.get("src") or "")
            frame.replace_with(link)
            link.wrap(Tag(name="p"))
        for table in soup.find_all("table"):  # one that lays out a page, and holds no figures
            if table.find(["p", "h1", "h2", "h3", "ul", "ol", "table", "div", "blockquote", "pre", "figure"]):
                for part in table.find_all(["thead", "tbody", "tr", "td", "th"]):
                    if part.find_parent("table") is table:
                        part.name = "div"
                table.name = "div"
        for part in [*soup.find_all(_NO_WORDS), *soup.find_all(_around)]:
            if not part.decomposed:
                part.decompose()
        for text in soup.find_all(string=re.compile("[\ue000-\ue001]")):
            text.replace_with(re.sub("[\ue000-\ue001]", "", text))
        for image in soup.find_all(["img", "video"]):
            image.replace_with(self._picture(post, image))
        for link in soup.find_all("a"):
            self._link(post, link)
        for heading in soup.find_all("h1"):
            heading.name = "h2"
        converter = _Words(heading_style="ATX", bullets="-", autolinks=False, table_infer_header=True)
        return str(converter.convert_soup(soup)).replace("<!--", r"<\!--").strip()

    def _link(self, post: _Post, link: Any) -> None:
        address = str(link.get("href") or "").strip()
        if re.match(r"(?:https?|mailto|tel):", address, re.IGNORECASE):
            link.attrs = {"href": quote(address, safe="%/:=&?~#+!$,;'@*-._[]")}
            return
        if address and not address.startswith("#") and PurePosixPath(address).suffix.casefold() not in PICTURE_ENDINGS:
            post.remarks.append(f"a link within the old pages, of which the words are kept: {cut_short(address, 80)}")
        link.unwrap()

    def _picture(self, post: _Post, image: Any) -> str:
        """The sign that stands for a picture, or its caption alone where it does not come along."""
        figure, around = image.find_parent("figure"), image.find_parent("a")
        below = figure.find("figcaption") if figure else None
        caption = one_line(str(image.get("alt") or image.get("title") or ""))
        caption = "" if re.search(r"\.\w{3,4}$", caption) else caption  # the name of a file
        if below and fold_name(caption) in ("", fold_name(below.get_text(" "))):
            caption = one_line(below.get_text(" "))
            below.decompose()
        caption = one_line(re.sub(r"[!?]{2,}", "!", re.sub(r"[\[\]<>`|*_\\]", " ", caption)))
        caption = "" if caption.casefold() == "private" else caption
        told = [around.get("href")] if around else []
        told += [image.get(key) for key in ("data-src", "data-lazy-src", "data-original", "src")]
        told += [one.get("src") for one in image.find_all("source")]
        for address in filter(None, map(str, filter(None, told))):
            with contextlib.suppress(ValueError, OSError):  # no address, or no name of a file
                if path := self._lies(post, address):
                    post.pictures.append(PostPicture(path=path, caption=caption))
                    return f"\ue000{len(post.pictures) - 1}\ue001"
        address = str(next(filter(None, reversed(told)), ""))
        why = f"no picture lies at: {cut_short(address, 200)}"
        if is_there(post.file.parent / unquote(address)):
            why = f"a picture outside the folder that was named: {cut_short(address, 200)}; name the folder above"
        if address.startswith("data:"):
            why = "a picture within the page itself is left out"
        elif PurePosixPath(address.partition("?")[0]).suffix.casefold() in (".gif", ".bmp", ".svg", ".avif"):
            why = f"a picture of a kind that is not taken: {cut_short(address, 200)}"
        elif re.match(r"(?:https?:)?//", address):
            why = f"a picture behind an address is not fetched: {cut_short(address, 200)}"
        post.remarks.append(why)
        return f" {caption} "

    def _lies(self, post: _Post, address: str) -> Path | None:
        """Where a picture lies, inside the folder that was named, or None."""
        parts = urlsplit(address)
        path = PurePosixPath(unquote(parts.path).replace("\\", "/"))
        if path.suffix.casefold() not in PICTURE_ENDINGS | CLIP_ENDINGS or parts.scheme not in ("", "http", "https"):
            return None
        name, root = str(path).lstrip("/"), post.root.resolve()
        if post.root not in self.lying:
            self.lying[post.root] = defaultdict(list)
            for one in post.root.rglob("*"):
                self.lying[post.root][one.name.casefold()].append(one)
        beside = [] if parts.netloc else [post.file.parent / name, post.root / name]
        # The same name alone could be another picture: of an address its folder has to agree as well.
        alike = self.lying[post.root].get(path.name.casefold(), [])
        alike = [one for one in alike if not parts.netloc or one.parts[-2:] == path.parts[-2:]]
        there, same = (
            [one for one in places if one.is_file() and one.resolve().is_relative_to(root)]
            for places in (beside, alike)
        )
        found = there[:1] or same
        return Path(os.path.normpath(found[0])) if len(found) == 1 else None


def _is_post(item: Any) -> bool:
    """Whether an item of an export is a post, and no comment, template, picture or setting."""
    kinds = [str(one.get("term", "")) for one in item.get("tags", ()) if "/kind#" in str(one.get("term", ""))]
    kind = kinds[0] if kinds else item.get("wp_post_type", "post")
    return kind.endswith(("post", "page"))


def _around(tag: Any) -> bool:
    """Whether a part of a page stands around the words of a post."""
    names = [*(tag.get("class") or ()), str(tag.get("id") or "")]
    hidden = tag.has_attr("hidden") or "display:none" in str(tag.get("style") or "").replace(" ", "")
    return hidden or any(_AROUND.fullmatch(name) for name in names)


def _day_in(text: str) -> str:
    """A day that a few words hold, as it is written, or an empty text."""
    for form in _DAYS:
        for found in form.finditer(text.replace("\\", "")):
            words = re.sub(r"[_-]+", " ", found[0]) if re.search(r"[^\W\d_]", found[0]) else found[0].replace("_", "-")
            if any(parse_any_date(words, order) for order in DateOrder):
                return words
    return ""


def _quiet(body: str) -> str:
    """Markdown in which nothing opens a private passage: what would is shown as code."""
    for _ in range(2):
        passages = find_passages(body)
        marked = {number for number, private in enumerate(passages.private, start=1) if private}
        marked |= {line for line, *_ in passages.unclear}
        if not marked:
            break
        lines = body.split("\n")
        for number in marked:
            lines[number - 1] = _HIDES.sub(lambda sign: f"`{sign[0].lstrip(chr(92))}`", lines[number - 1])
        body = "\n".join(lines)
    return body
