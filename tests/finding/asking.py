"""Asking an index in Python, without files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from collecting import Judged

from journal.finding.cards import answer_cards, best_picture, shown_passage, weigh_passages
from journal.finding.documents import Document, DocumentKind, documents, term_groups
from journal.finding.index import Index, analyse, build_index
from journal.finding.query import Lexicon, Plan, read_query
from journal.finding.ranking import Ranked, Ranker
from journal.finding.rules import Rules, shipped_rules
from journal.finding.tokens import Tokenizer
from journal.view.page_addresses import PageAddresses
from journal.view.view import View


@dataclass(frozen=True, slots=True)
class Asked:
    """A question answered: IDs of entries and lines, best first."""

    plan: Plan
    answer: Ranked
    entries: list[str]
    lines: list[str]


@dataclass(frozen=True, slots=True, eq=False)
class Asker:
    """An index that can be asked: `ask("nose ribs").entries`."""

    documents: Sequence[Document]
    index: Index
    lexicon: Lexicon

    def __call__(self, question: str, allowed: Callable[[int], bool] = lambda entry: True) -> Asked:
        """The answer to `question` among the entries that are `allowed`."""
        plan = read_query(question, self.lexicon)
        answer = Ranker(self.lexicon, self.index.postings.get).answer(plan, allowed)
        return Asked(
            plan,
            answer,
            [self.documents[hit.document].id for hit in answer.hits if self.documents[hit.document].kind.dated],
            [self.documents[hit.document].id for hit in answer.hits if not self.documents[hit.document].kind.dated],
        )


def asker(view: View, rules: Rules | None = None) -> Asker:
    """An index of `view`, by the shipped rules or others."""
    addresses = PageAddresses(view)
    return ask_documents(documents(view, addresses), term_groups(view), addresses.mirrored, rules)


def ask_documents(
    found: Sequence[Document],
    groups: Sequence[Sequence[str]] = (),
    twins: Mapping[str, Sequence[str]] | None = None,
    rules: Rules | None = None,
) -> Asker:
    """An index of documents made by hand."""
    tokenizer = Tokenizer((rules or shipped_rules()).with_names(groups))
    index = build_index(found, [analyse(one, tokenizer) for one in found], twins or {}, tokenizer)
    return Asker(found, index, Lexicon(index.lexicon, tokenizer))


def ranks(ask: Asker, question: str, wanted: frozenset[str]) -> int | None:
    """The place (from 1) of the first wanted entry among the answers, or None."""
    return next((place for place, id_ in enumerate(ask(question).entries, start=1) if id_ in wanted), None)


def names(document: Document) -> set[str]:
    """What judged questions call a document: entries by their folder, all others as kind:ID."""
    kind, id_ = document.kind.value, document.id
    if document.kind is DocumentKind.CALLOUT:
        steps = [word for word in id_.split() if word[0].isdigit()]
        return {f"callout:{step} {' '.join(id_.split()[len(steps) :])}" for step in steps}
    return {id_} if kind == "entry" else {f"{kind}:{id_}", *([id_] if document.kind.dated else [])}


def answered(ask: Asker, question: Judged) -> tuple[int | None, bool | None]:
    """The place (from 1) of the first wanted answer, and whether its title, sentence or picture says what it should;
    None where it is not found, or what is judged stands in another answer.
    """
    asked = ask(question.query)
    for place, hit in enumerate(asked.answer.hits, start=1):
        document = ask.documents[hit.document]
        if not names(document) & question.wanted:
            continue
        (card,) = answer_cards([document], [analyse(document, ask.lexicon.tokenizer)], ())
        passages, said = card["passages"], " ".join(question.said.split())
        worth = weigh_passages(passages, hit.mentions, asked.answer.rarity)
        if said.rpartition(".")[2].lower() in ("jpg", "heic") and any(one.endswith(said) for one in document.photos):
            picture = best_picture(passages, worth, document.cover)
            return place, picture is not None and document.photos[picture].endswith(said)
        shown = shown_passage(card, worth)
        sentence = passages[shown][2] if shown is not None else ""
        whole = " ".join(one.text for one in document.passages)
        says = said.lower() in f"{document.title} {sentence}".lower()
        return place, says if said and said.lower() in whole.lower() else None
    return None, None
