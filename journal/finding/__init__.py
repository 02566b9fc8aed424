"""Finding again how it was done: one index for the terminal, the site and the archive.

`documents` turns a `View` into what can be found, `tokens` says what a word is, `index` lays the
words out, `query` reads a question, `ranking` answers it, `snippets` picks the sentence. The
browser does the last four in theme_overrides/assets/find/engine.js over the same index, with the
same rules (journal/data/find_rules.json), and comes to the same scores.
"""
