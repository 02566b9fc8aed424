"""Asking an index in Python, without files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from journal.finding.documents import Document, documents, term_groups
from journal.finding.index import Index, analyse, build_index
from journal.finding.query import Lexicon, Plan, read_query
from journal.finding.ranking import Ranked, Ranker
from journal.finding.rules import shipped_rules
from journal.finding.tokens import Tokenizer
from journal.view.page_addresses import PageAddresses
from journal.view.view import View


@dataclass(frozen=True, slots=True)
class Asked:
    """A question answered: IDs of sheets and lines, best first."""

    plan: Plan
    answer: Ranked
    entries: list[str]
    lines: list[str]


@dataclass(frozen=True, slots=True, eq=False)
class Asker:
    """An index that can be asked: `ask("nose ribs").sheets`."""

    documents: Sequence[Document]
    index: Index
    lexicon: Lexicon

    def __call__(self, question: str, allowed: Callable[[int], bool] = lambda entry: True) -> Asked:
        """The answer to `question` among the sheets that are `allowed`."""
        plan = read_query(question, self.lexicon)
        answer = Ranker(self.lexicon, self.index.postings.get).answer(plan, allowed)
        return Asked(
            plan,
            answer,
            [self.documents[hit.document].id for hit in answer.hits if self.documents[hit.document].kind.dated],
            [self.documents[hit.document].id for hit in answer.hits if not self.documents[hit.document].kind.dated],
        )


def asker(view: View) -> Asker:
    """An index of `view`."""
    addresses = PageAddresses(view)
    return ask_documents(documents(view, addresses), term_groups(view), addresses.mirrored)


def ask_documents(
    found: Sequence[Document], groups: Sequence[Sequence[str]] = (), twins: Mapping[str, Sequence[str]] | None = None
) -> Asker:
    """An index of documents made by hand."""
    tokenizer = Tokenizer(shipped_rules())
    index = build_index(found, [analyse(one, tokenizer) for one in found], groups, twins or {}, tokenizer)
    return Asker(found, index, Lexicon(index.lexicon, tokenizer))


def ranks(ask: Asker, question: str, wanted: frozenset[str]) -> int | None:
    """The place (from 1) of the first wanted sheet among the answers, or None."""
    return next((place for place, id_ in enumerate(ask(question).entries, start=1) if id_ in wanted), None)
