"""The conductor: open a build folder, get everything that is known about it. All doors use it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from journal.ledger import Ledger
from journal.model import Build
from journal.problems import Problem, has_errors
from journal.progress import Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """A build folder read, checked and added up.

    `root` is the folder that holds mkdocs.yml and content/. `today` is the day the journal was
    opened, given by the caller. Where `problems` hold errors, `build` lacks what they name and
    nothing may be published from it.
    """

    root: Path
    today: date
    build: Build
    ledger: Ledger
    progress: Progress
    problems: tuple[Problem, ...] = field(default=())

    @property
    def sound(self) -> bool:
        """Whether nothing stops a site, an archive or a seal."""
        return not has_errors(self.problems)
