"""Whether a page, a style or a script would fetch something from another host when it is opened."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html.parser import HTMLParser
from urllib.parse import urlsplit

_FETCHED: dict[str, frozenset[str]] = {
    "src": frozenset({"img", "source", "script", "iframe", "frame", "embed", "video", "audio", "track", "input"}),
    "srcset": frozenset({"img", "source"}),
    "data": frozenset({"object"}),
    "codebase": frozenset({"object"}),
    "poster": frozenset({"video"}),
    "href": frozenset({"image", "use", "feimage", "base"}),
    "xlink:href": frozenset({"image", "use", "feimage"}),
    "background": frozenset({"body"}),
    "manifest": frozenset({"html"}),
}
"""The attributes from which something is fetched, and on which elements."""
_LINKS_THAT_FETCH_NOTHING = frozenset(
    {"canonical", "alternate", "license", "author", "me", "next", "prev", "help", "bookmark", "nofollow", "noopener"}
)
_CSS = re.compile(r"@import\s+(?:url\()?\s*['\"]?([^'\")\s;]+)|url\(\s*['\"]?([^'\")\s]+)", re.IGNORECASE)
_CSS_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
_SCRIPT = re.compile(
    r"""(?:fetch|import|importScripts|Worker|WebSocket|EventSource|sendBeacon|\.open\(\s*['"][A-Z]+['"]\s*,)
        \s*\(?\s*['"`]((?:https?:|wss?:)?//[^'"`\s]+)
      | \.(?:src|href|action)\s*=\s*['"`]((?:https?:|wss?:)?//[^'"`\s]+)
      | \bfrom\s*['"]((?:https?:)?//[^'"\s]+)""",
    re.VERBOSE,
)


def _elsewhere(addresses: Iterable[str], own_host: str) -> tuple[str, ...]:
    """Those of the addresses that lie on another host, each once."""
    return tuple(dict.fromkeys(one for one in addresses if _is_elsewhere(one.strip(), own_host)))


def _is_elsewhere(address: str, own_host: str) -> bool:
    if not re.match(r"(?:https?:|wss?:|ftp:)?//", address, re.IGNORECASE):
        return False
    try:
        return (urlsplit(address).hostname or "") != own_host
    except ValueError:
        return True


def requests_in_style(text: str, own_host: str) -> tuple[str, ...]:
    """Addresses on other hosts that a style sheet fetches."""
    return _elsewhere((one or other for one, other in _CSS.findall(_CSS_COMMENT.sub("", text))), own_host)


def requests_in_script(text: str, own_host: str) -> tuple[str, ...]:
    """Addresses on other hosts that a script names where it fetches something. What a script puts together
    out of pieces cannot be seen this way; ours do not.
    """
    return _elsewhere((one or two or three for one, two, three in _SCRIPT.findall(text)), own_host)


_TELLING = frozenset({"alt", "title", "aria-label", "content", "placeholder", "value", "label", "summary"})
_APART = frozenset(
    {"p", "div", "li", "ul", "ol", "dl", "dt", "dd", "table", "tr", "td", "th", "h1", "h2", "h3", "h4", "h5", "h6"}
    | {"figure", "figcaption", "section", "article", "header", "footer", "nav", "main", "br", "hr", "blockquote"}
    | {"pre", "details", "summary", "option"}
)


def read_html(text: str, own_host: str) -> tuple[tuple[str, ...], str]:
    """A page (HTML or SVG) as a browser meets it: addresses on other hosts that it fetches when it opens
    the page, and the words that it shows or tells, without scripts and styles.
    """
    reader = _Reader(own_host)
    reader.feed(text)
    reader.close()
    return tuple(dict.fromkeys(reader.found)), "".join(reader.words)


class _Reader(HTMLParser):
    def __init__(self, own_host: str) -> None:
        super().__init__(convert_charrefs=True)
        self.own_host = own_host
        self.found: list[str] = []
        self.words: list[str] = []
        self._inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name.casefold(): value or "" for name, value in attrs}
        if tag in ("script", "style"):
            self._inside = tag
        elif tag in _APART:
            self.words.append("\n")
        self.words += [f"\n{value}\n" for name, value in told.items() if value and name in _TELLING]
        for name, value in told.items():
            if tag in _FETCHED.get(name, ()):
                self._take([one.split()[0] for one in value.split(",") if one.strip()] if name == "srcset" else [value])
        if tag == "link":
            kinds = set(told.get("rel", "").casefold().split())
            if not kinds or not kinds <= _LINKS_THAT_FETCH_NOTHING:
                self._take([told.get("href", "")])
        if tag == "meta" and told.get("http-equiv", "").casefold() == "refresh":
            self._take(re.findall(r"url\s*=\s*['\"]?([^'\"\s]+)", told.get("content", ""), re.IGNORECASE))
        if tag == "iframe" and told.get("srcdoc"):
            requests, words = read_html(told["srcdoc"], self.own_host)
            self.found += requests
            self.words.append(words)
        if "ping" in told:
            self._take(told["ping"].split())
        if "style" in told:
            self.found += requests_in_style(told["style"], self.own_host)

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""
        if tag in _APART:
            self.words.append("\n")

    def handle_data(self, data: str) -> None:
        if self._inside == "style":
            self.found += requests_in_style(data, self.own_host)
        elif self._inside == "script":
            self.found += requests_in_script(data, self.own_host)
        else:
            self.words.append(data)

    def _take(self, addresses: list[str]) -> None:
        self.found += _elsewhere(addresses, self.own_host)
