"""The words of the interface: marked where they stand, and said in the language of a catalogue that ships.

The habits are those of GNU gettext: whole sentences with named places, `_("{done} of {all}", done=…, all=…)`,
`ngettext("…", "…", number)`, and `N_("…")` for what is said later. English is the language of the sources and the only
one that ships; `data/words/LANGUAGE.po` makes another. Babel says dates and numbers. The standard library alone is
needed for English messages: the small verifier of archives speaks, too.
"""

from __future__ import annotations

import gettext as gnu
import json
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
    """What is spoken on a site, as BCP 47 tags: the interface in `interface`, the builder's texts in `content`.
    `for_scripts` are the messages of scripts, as JSON; empty where they say them as they stand.
    """

    interface: str = ENGLISH
    content: str = ENGLISH
    catalogue: gnu.NullTranslations = gnu.NullTranslations()  # noqa: RUF009  (it holds nothing that could change)
    for_scripts: str = ""

    @property
    def page(self) -> str:
        """The language of a page as a whole. It is the interface's, in which every page has its navigation and labels
        and many have all their words; what the builder wrote stands in a dozen places that templates can mark (WCAG
        2.2, 3.1.1 and 3.1.2). Where both are one language, the builder's own form of it: en-GB.
        """
        return self.content if language_of(self.content) == language_of(self.interface) else self.interface


_SPOKEN: ContextVar[Spoken] = ContextVar("spoken", default=Spoken())  # noqa: B039  (frozen)
spoken: Callable[[], Spoken] = _SPOKEN.get


def speak(content: str = ENGLISH) -> None:
    """From here on in this context the builder's texts are in `content`, and the interface is, too, where a catalogue
    of that language ships; else it is English.
    """
    interface = next((name for name in (content, language_of(content)) if (WORDS / f"{name}.po").is_file()), ENGLISH)
    told = () if interface == ENGLISH else _catalogue(WORDS / f"{interface}.po")
    _SPOKEN.set(Spoken(interface, content, *told))


@lru_cache(maxsize=4)
def _catalogue(path: Path) -> tuple[gnu.NullTranslations, str]:
    """The messages of a .po file, and those of scripts among them; what it leaves out is said in English."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = BytesIO()
    with path.open("rb") as source:
        write_mo(compiled, messages := read_po(source))
    compiled.seek(0)
    made = gnu.GNUTranslations(compiled)
    said: dict[str, object] = {
        message.id if isinstance(message.id, str) else message.id[0]: message.string
        for message in messages
        if message.string and any(place.endswith(".js") for place, _ in message.locations)
    }
    # Which form goes with a number: rules of plural look at the last two figures, or at numbers below 100.
    said[""] = [made.plural(number) for number in range(200)]  # type: ignore[attr-defined]
    return made, json.dumps(said, ensure_ascii=False).replace("<", "\\u003c")


def language_of(tag: str) -> str:
    """`en-GB` -> `en`."""
    return tag.partition("-")[0]


def _(message: str, /, **places: object) -> str:
    """A message in the language of the interface, its named places filled."""
    said = _SPOKEN.get().catalogue.gettext(message) if message else ""
    return said.format(**places) if places else said


def ngettext(one: str, many: str, number: int, /, **places: object) -> str:
    """A message that depends on a number, likewise."""
    return _SPOKEN.get().catalogue.ngettext(one, many, number).format(**places)


def N_(message: str) -> str:  # noqa: N802  (gettext's own name)
    """Marks a message that `_` says later."""
    return message


def all_of(*messages: str) -> tuple[str, ...]:
    """Marks several, as the headings of a table are."""
    return messages


def lang_of(tag: str) -> str:
    """The attribute ` lang="…"` for an element in another language than its page's; nothing where it is the same."""
    return "" if language_of(tag) == language_of(_SPOKEN.get().page) else f' lang="{tag}"'


def content_lang() -> str:
    """The same for an element that holds the builder's words."""
    return lang_of(_SPOKEN.get().content)


def interface_lang() -> str:
    """The same for words of the interface that stand among the builder's."""
    now = _SPOKEN.get()
    return f' lang="{now.page}"' if content_lang() else ""
