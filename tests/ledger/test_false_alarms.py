"""What the rules of evidence say of a build in which nothing is wrong.

`SOUND_ENTRIES=200 SOUND_SEED=7 pytest -m slow -s` with this file counts it for any size and seed.
"""

from __future__ import annotations

import os
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from sound_build import write_sound_build

from journal.base.problems import has_errors
from journal.ledger.journal import open_journal

ENTRIES, SEED = int(os.environ.get("SOUND_ENTRIES", "60")), int(os.environ.get("SOUND_SEED", "1"))
MOST_IN_FIFTY = 1


@pytest.mark.slow
def test_a_sound_build_raises_hardly_a_word(tmp_path: Path) -> None:
    """No word comes more often than once in fifty entries."""
    write_sound_build(tmp_path, entries=ENTRIES, seed=SEED)
    last = max(path.name for path in (tmp_path / "content/entries").iterdir())[:10]
    journal = open_journal(tmp_path, date.fromisoformat(last))
    entries = len(journal.build.entries)
    words = Counter(problem.word for problem in journal.problems)
    print(f"{entries} entries, {sum(len(one.photos) for one in journal.build.entries)} pictures: {dict(words)}")
    assert not has_errors(journal.problems)
    assert all(count * 50 <= MOST_IN_FIFTY * entries for count in words.values()), journal.problems
