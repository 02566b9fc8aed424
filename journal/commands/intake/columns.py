"""Columns of a table of work days, and the headings they go by in English, German and French."""

from __future__ import annotations

import re
from collections.abc import Mapping

from journal.base.addresses import fold_name
from journal.base.prose import without_accents

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "date": ("day", "when"),
    "assembly": ("section", "part", "area"),
    "hours": ("time", "duration", "hrs", "time spent"),
    "title": ("subject", "heading"),
    "text": ("description", "notes", "note", "work", "work done", "comment", "comments", "details", "what"),
    "steps": ("step", "manual steps", "steps finished"),
    "begun": ("steps begun", "started"),
    "redone": ("steps redone", "rework"),
    "people": ("person", "who", "by", "builder", "builders"),
    "place": ("where", "location"),
    "tools": ("tool",),
    "methods": ("method",),
}
"""What a row fills, and the words that every version knew for it: notes and marks of rows go by these alone."""

START, FINISH, BREAK, TOTAL = "start", "finish", "break", "total"
"""Columns out of which the hours come, beside those of `COLUMNS`; a total is what the table adds up itself."""

_MORE: Mapping[str, str] = {
    "date": "dates, work date, date of work, date worked, date time, timestamp, "
    "datum, zeitstempel, horodatage, tag, arbeitstag, jour, journee",
    "assembly": "assemblies, component, system, section of aircraft, kit section, chapter, category, sub-kit, "
    "baugruppe, bauteil, abschnitt, bereich, kapitel, ensemble, sous-ensemble, partie, zone, chapitre",
    "hours": "hour, hr, h, time worked, time taken, elapsed, elapsed time, labor, labour, man hours, work time, "
    "net hours, net, stunden, std, stdn, dauer, zeit, arbeitszeit, aufwand, zeitaufwand, arbeitsstunden, netto, "
    "heures, heure, duree, temps, temps passe, temps de travail, nb heures, nb d'heures, nombre d'heures, "
    "minutes, mins, min, minuten",
    "title": "entry title, titel, überschrift, betreff, thema, titre, sujet, objet",
    "text": "what i did, what we did, what was done, "
    "task, tasks, activity, activities, job, work performed, remarks, remark, entry, log, summary, "
    "tätigkeit, tätigkeiten, arbeit, arbeiten, ausgeführte arbeit, ausgeführte arbeiten, "
    "beschreibung, bemerkung, bemerkungen, notiz, notizen, kommentar, aufgabe, was, text, "
    "tache, taches, travail, travaux, travail effectue, travaux effectues, description des travaux, remarque, "
    "remarques, commentaire, commentaires, activite, observations, quoi",
    "steps": "step no, step number, manual step, manual ref, bauschritt, bauschritte, schritt, schritte, etape, etapes",
    "people": "people, names, worker, workers, crew, worked by, wer, person, personen, mitarbeiter, "
    "erbauer, qui, personne, personnes, constructeur, constructeurs",
    "place": "shop, ort, wo, werkstatt, lieu, atelier, ou",
    "tools": "tools used, werkzeug, werkzeuge, outil, outils",
    START: "from, begin, began, start time, time in, in, time from, time started, clock in, start of work, "
    "von, beginn, anfang, startzeit, arbeitsbeginn, ab, de, debut, heure de debut, arrivee",
    FINISH: "to, end, stop, until, till, end time, finish time, stop time, time out, out, time to, time stopped, "
    "time ended, finished, clock out, end of work, bis, ende, endzeit, arbeitsende, a, fin, heure de fin, depart",
    BREAK: "breaks, lunch, less break, pause, pausen, pausenzeit, unterbrechung, pauses, coupure, repas",
    TOTAL: "total hours, total time, hours total, daily total, day total, running total, cumulative, cumulative hours, "
    "cum hours, total to date, hours to date, sum, subtotal, balance, summe, gesamt, gesamtstunden, stunden gesamt, "
    "kumuliert, laufende summe, stundenkonto, total heures, heures totales, total cumule, cumul, cumule, somme",
}
"""More headings, which tables of other people bring."""

_FILLER = re.compile(
    r"\b(?:of|the|an?|worked|spent|used|done|total|in|d|de|du|la|le|l|les|der|die|das|des|am|pro|per|me|my|this|session)\b"
)
_UNIT = re.compile(r"\(([^()]*)\)|\[([^\[\]]*)\]|[/,]\s*(h|hrs?|min|std)\.?$", re.IGNORECASE)
_MINUTES = re.compile(r"\b(?:min|mins|minutes?|minuten|mn)\b", re.IGNORECASE)


def bare_heading(heading: str) -> str:
    """A heading without its unit, signs and accents, folded: `Durée (h) :` -> `duree`."""
    return " ".join(re.sub(r"[^\w\s'&-]+", " ", fold_name(without_accents(_UNIT.sub(" ", heading)))).split()) or (
        fold_name(heading)
    )


_BY_WORD = {
    **{bare_heading(word): column for column, more in _MORE.items() for word in (column, *more.split(", "))},
    **{bare_heading(word): column for column, words in COLUMNS.items() for word in (column, *words)},
}


def column_of(heading: str) -> str | None:
    """The column that a heading names, also among words that say no more (`Hours worked`), or None."""
    bare = bare_heading(heading)
    if bare in _BY_WORD or not bare:
        return _BY_WORD.get(bare)
    words = _FILLER.sub(" ", bare).split()
    if " ".join(words) in _BY_WORD:
        return _BY_WORD[" ".join(words)]
    meant = {_BY_WORD.get(word) for word in words}
    return meant.pop() if len(meant) == 1 else None


def in_minutes(heading: str) -> bool:
    """Whether a heading says that its figures are minutes."""
    unit = _UNIT.search(heading)
    return bool(_MINUTES.search(next(filter(None, unit.groups()), "") if unit else heading))
