"""Finding: one index and one ranking for terminal, site and archive.

Owns `documents` (a `View` becomes what can be found), `tokens`, `index`, `query`, `ranking` and `cards`.
In the browser theme_overrides/assets/find/engine.js answers by the same rules and comes to the same scores.
Stands on base and view.
Never enters: the ledger, site, record.
"""
