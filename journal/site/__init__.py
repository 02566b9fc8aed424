"""Site: what each page says, as records for the templates; feeds and open data.

Owns pages, charts, link cards, feeds.
Stands on base, trade and view.
Never enters: the ledger, record, finding, mkdocs.
"""
