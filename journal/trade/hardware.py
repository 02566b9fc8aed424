"""Hardware as it is written: the standard part numbers of rivets, bolts, screws, nuts and fittings in one form.

A number is a family (AN470), what stands behind it, and dash numbers. Families stand in data/hardware.csv with the
source of what they are; one standard that another took over (AN470, MS20470) is the same part. What is not
listed there is kept as written and compared letter by letter.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from journal.base.model import Nut
from journal.trade.tables import rows_of

_NUMBER = re.compile(r"(?P<letters>AN|MS|NASM?|M)-?(?P<digits>[0-9]+)(?P<rest>.*)", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """What the first part of a standard number stands for; `locks` is None where that depends on the part."""

    name: str
    kind: str
    says: str
    load: Nut | None
    locks: bool | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part as written, in one spelling (`number`), with its family where that is known."""

    number: str
    family: Family | None = None

    @property
    def kind(self) -> str:
        """rivet, blind rivet, bolt, screw, nut, nutplate, washer, pin or fitting; empty where it is not known."""
        return self.family.kind if self.family else ""


@cache
def families() -> Mapping[str, Family]:
    """Family -> what it is; one that another took over goes by that one's name. Where the number is the size, as with
    AN3 to AN20, each is a family.
    """
    read: dict[str, Family] = {}
    for row in rows_of("hardware"):
        letters, first = re.split(r"(?<=[A-Z])(?=[0-9])", row["family"])
        for number in range(int(first), int(row["last"] or first) + 1):
            read[f"{letters}{number}"] = Family(
                name=row["same_as"] or f"{letters}{number}",
                kind=row["kind"],
                says=row["name"],
                load=Nut(row["load"]) if row["load"] else None,
                locks={"yes": True, "no": False}.get(row["locks"]),
                source=row["source"],
            )
    return MappingProxyType(read)


@lru_cache(maxsize=20_000)
def read_part(text: str) -> Part:
    """A part number in one spelling: capitals, no spaces, any dash as `-`, the standard that is in force.

    `ms20470 ad4-5`, `AN470-AD-4-5` and `470AD4-5` are AN470AD4-5; half sizes `-3.5`, `-3 1/2`, `-3-5` are -3.5 (the
    last from memory).
    """
    plain = " ".join(re.sub("[‐‑–—−]", "-", text).upper().split())
    joined = re.sub(r"(?<=[0-9]) ?(?:½|1/2)", ".5", plain)
    joined = re.sub(r"(?<=[0-9]) (?=[0-9])", "-", re.sub(r" ?- ?", "-", joined)).replace(" ", "")
    found = _NUMBER.fullmatch(re.sub(r"^(?=(?:470|426)-?[A-Z])", "AN", joined))
    family = families().get(f"{found['letters'].replace('NASM', 'MS')}{found['digits']}") if found else None
    if found is None or family is None:
        return Part(number=plain)
    rest: str = found["rest"]
    if family.kind == "rivet":
        rest = re.sub(r"^-?([A-Z]*)-?(?=[0-9])", r"\1", rest)
        rest = re.sub(r"(-[0-9]+)-5$", r"\1.5", rest)
    return Part(number=family.name + rest, family=family)


def same_part(called_for: str, used: str) -> bool:
    """Whether a part that is asked for is the part used: by its number, or by the beginning of it (AN4 for AN4-10A,
    AN470 for AN470AD4-5).
    """
    asked, part = _compared(called_for), _compared(used)
    if asked == part or not asked or not part.startswith(asked):
        return asked == part
    end, after = asked[-1], part[len(asked)]
    # AN470 and AN470AD are beginnings of AN470AD4-5, as letters and figures part them; AN4 is none of AN4H-10A.
    parted = end.isdigit() != after.isdigit() and after != "." and "-" not in asked
    return after == "-" or (parted and read_part(used).kind in ("rivet", "blind rivet", "nutplate"))


@lru_cache(maxsize=20_000)
def _compared(text: str) -> str:
    """The number as it is compared: of a part that is not known here without the signs that writers leave out, as in
    `CR 3213-4-02` and `CCP-42`, but never those between two figures.
    """
    part = read_part(text)
    joined = re.sub(r"(?<=[0-9])[ -]+(?=[0-9])", "-", part.number)
    return part.number if part.family else re.sub(r"[ -]+(?![0-9])|(?<![0-9])[ -]+", "", joined)


def same_purpose(what: str, asked: str, used: str) -> bool:
    """Whether one part may stand in for the other, as a screw for a bolt; so too where a kind is not known. `what` is
    that of the part asked for, where its number does not tell.
    """
    kinds = _PURPOSES.get(read_part(asked).kind or what), _PURPOSES.get(read_part(used).kind)
    return None in kinds or len(set(kinds)) == 1


_PURPOSES = {
    **dict.fromkeys(("rivet", "solid rivet", "blind rivet"), "rivet"),
    **dict.fromkeys(("screw", "bolt"), "bolt"),
    **dict.fromkeys(("nut", "nutplate", "nut plate", "anchor nut"), "nut"),
    **{kind: kind for kind in ("fitting", "pin", "washer")},
}
