"""Making the terminal's warm index from the journal, for one audience.

Imported only where the index is not warm any more: it needs the whole program.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from journal.base.problems import Grade
from journal.finding.cache import document_key, known_analyses, write_warm
from journal.finding.cards import answer_cards
from journal.finding.documents import Document, documents, term_groups
from journal.finding.index import analyse, build_index
from journal.finding.rules import shipped_rules
from journal.finding.tokens import Tokenizer
from journal.ledger.journal import Journal
from journal.view.page_addresses import PageAddresses
from journal.view.view import Audience, open_view


def make_warm(open_it: Callable[[], Journal], file: Path, *, key: str, code: str, everything: bool) -> None:
    """Open the journal and lay its index down in `file`; documents known already are not read again.

    `everything` takes in private entries and passages. Raises OSError where it cannot be written.
    """
    journal = open_it()
    view = open_view(journal, Audience.ARCHIVE if everything else Audience.PUBLIC)
    found = documents(view, PageAddresses(view))
    tokenizer = Tokenizer(shipped_rules())
    known = known_analyses(file, code)
    keys = [document_key(document) for document in found]
    analysed = [
        known.get(document_key) or analyse(document, tokenizer)
        for document, document_key in zip(found, keys, strict=True)
    ]

    write_warm(
        file,
        key=key,
        code=code,
        about=_about(journal, found),
        index=build_index(found, analysed, term_groups(view), tokenizer),
        cards=answer_cards(found, analysed, tuple(view.steps)),
        keys=keys,
        analysed=analysed,
    )


def _about(journal: Journal, found: tuple[Document, ...]) -> Mapping[str, Any]:
    """What filters may name, who worked on which entry (by ID: at the builder's own terminal
    people need not go by the names they are shown under), and how many errors the content has.
    """
    build = journal.build
    people = {
        **{("entry", entry.id): list(entry.people) for entry in build.entries},
        **{("inspection", inspection.id): [inspection.inspector] for inspection in build.inspections},
    }
    return {
        "assemblies": [[assembly.id, assembly.title] for assembly in build.assemblies.values()],
        "steps": list(build.steps),
        "people": [[person.id, person.name, person.public_name] for person in build.people.values()],
        "people_of": [people.get((one.kind.value, one.id), []) for one in found if one.kind.is_entry],
        "errors": sum(problem.grade is Grade.ERROR for problem in journal.problems),
    }
