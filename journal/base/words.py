"""The words of the interface: marked where they stand, and said in the language of a catalogue that ships.

The habits are those of GNU gettext: whole sentences with named places, `_("{done} of {all}", done=…, all=…)`,
`ngettext("…", "…", number)`, and `N_("…")` for what is said later. English is the language of the sources and the only
one that ships; `data/words/LANGUAGE.po` makes another. Babel says dates and numbers. The standard library alone is
needed for English messages: the small verifier of archives speaks, too.
"""

from __future__ import annotations

import gettext as gnu
from collections.abc import Callable
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path

ENGLISH = "en"
WORDS = Path(__file__).parents[1] / "data/words"


@dataclass(frozen=True, slots=True)
class Spoken:
    """What is spoken on a site, as BCP 47 tags: the interface in `interface`, the builder's texts in `content`."""

    interface: str = ENGLISH
    content: str = ENGLISH
    catalogue: gnu.NullTranslations = gnu.NullTranslations()  # noqa: RUF009  (it holds nothing that could change)

    @property
    def page(self) -> str:
        """The language of a page as a whole. It is the interface's, in which every page has its navigation and labels
        and many have all their words; what the builder wrote stands in a dozen places that templates can mark (WCAG
        2.2, 3.1.1 and 3.1.2). Where both are one language, the builder's own form of it: en-GB.
        """
        return self.content if _language(self.content) == _language(self.interface) else self.interface


_SPOKEN: ContextVar[Spoken] = ContextVar("spoken", default=Spoken())  # noqa: B039  (frozen)
spoken: Callable[[], Spoken] = _SPOKEN.get


def speak(content: str = ENGLISH) -> None:
    """From here on in this context the builder's texts are in `content`, and the interface is, too, where a catalogue
    of that language ships; else it is English.
    """
    interface = next((name for name in (content, _language(content)) if (WORDS / f"{name}.po").is_file()), ENGLISH)
    made = gnu.NullTranslations() if interface == ENGLISH else _catalogue(WORDS / f"{interface}.po")
    _SPOKEN.set(Spoken(interface, content, made))


@lru_cache(maxsize=4)
def _catalogue(path: Path) -> gnu.NullTranslations:
    """The messages of a .po file; what it leaves out is said in English."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = BytesIO()
    with path.open("rb") as source:
        write_mo(compiled, read_po(source))
    compiled.seek(0)
    return gnu.GNUTranslations(compiled)


def _language(tag: str) -> str:
    return tag.partition("-")[0]


def _(message: str, /, **places: object) -> str:
    """A message in the language of the interface, its named places filled."""
    said = _SPOKEN.get().catalogue.gettext(message)
    return said.format(**places) if places else said


def ngettext(one: str, many: str, number: int, /, **places: object) -> str:
    """A message that depends on a number, likewise."""
    return _SPOKEN.get().catalogue.ngettext(one, many, number).format(**places)


def N_(message: str) -> str:  # noqa: N802  (gettext's own name)
    """Marks a message that `_` says later."""
    return message


def lang_of(tag: str) -> str:
    """The attribute ` lang="…"` for an element in another language than its page's; nothing where it is the same."""
    return "" if _language(tag) == _language(_SPOKEN.get().page) else f' lang="{tag}"'


def content_lang() -> str:
    """The same for an element that holds the builder's words."""
    return lang_of(_SPOKEN.get().content)


def interface_lang() -> str:
    """The same for words of the interface that stand among the builder's."""
    now = _SPOKEN.get()
    return f' lang="{now.page}"' if content_lang() else ""
