"""Answers that were given for one table, remembered for the next: how it is written, and what its words mean.

They lie in `.journal/adopt.json`, which may be deleted. What an option says now wins.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from journal.base.addresses import fold_name
from journal.base.formatting import say_all
from journal.base.model import Build
from journal.base.safe_write import write_whole
from journal.commands.intake.lenient_parsing import ORDERS, DateOrder
from journal.ledger.journal import CACHE

NAME = "adopt.json"


@dataclass(frozen=True, slots=True)
class Answers:
    """What was answered, empty where nothing was. `dates` is the value of an order, `headings` and `means` go by words
    of tables.
    """

    dates: str = ""
    hours_are: str = ""
    assembly: str = ""
    people: tuple[str, ...] = ()
    headings: Mapping[str, str] = field(default_factory=dict)
    means: Mapping[str, str] = field(default_factory=dict)

    def with_older(self, older: Answers) -> Answers:
        """These answers, and the older ones where these say nothing."""
        return Answers(
            self.dates or older.dates,
            self.hours_are or older.hours_are,
            self.assembly or older.assembly,
            self.people or older.people,
            _joined(older.headings, self.headings),
            _joined(older.means, self.means),
        )

    def told(self) -> list[str]:
        """Each answer in words."""
        told = [f"dates are written with {ORDERS[DateOrder(self.dates)]}"] if self.dates else []
        told += {"each": ["hours are those of each person"], "total": ["hours are the total of all"]}.get(
            self.hours_are, []
        )
        told += [f"the assembly is {self.assembly}"] if self.assembly else []
        told += [f"{say_all(self.people)} worked"] if self.people else []
        told += [f'the column "{name}" is {column}' for name, column in self.headings.items()]
        return [*told, *(f'"{word}" is {identifier}' for word, identifier in self.means.items())]


def _joined(older: Mapping[str, str], newer: Mapping[str, str]) -> dict[str, str]:
    said = {fold_name(word) for word in newer}
    return {**{word: meant for word, meant in older.items() if fold_name(word) not in said}, **newer}


def kept_answers(root: Path, build: Build) -> Answers:
    """What was answered before, as far as the build still knows it; nothing where the file is gone or damaged."""
    try:
        told = json.loads((root / CACHE / NAME).read_bytes())
        known = {*build.assemblies, *build.people, *build.places}
        return Answers(
            dates=DateOrder(told["dates"]).value if told["dates"] else "",
            hours_are=told["hours_are"] if told["hours_are"] in ("each", "total") else "",
            assembly=told["assembly"] if told["assembly"] in build.assemblies else "",
            people=tuple(one for one in told["people"] if one in build.people),
            headings={str(name): str(column) for name, column in told["headings"].items()},
            means={str(word): meant for word, meant in told["means"].items() if meant in known},
        )
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return Answers()


def keep_answers(root: Path, answers: Answers) -> None:
    """Keep answers for the next time."""
    text = json.dumps(asdict(answers), ensure_ascii=False, indent=1)
    write_whole(root / CACHE / NAME, text.encode(), cache=True)
