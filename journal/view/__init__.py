"""View: the border. `open_view(journal, audience)` lets through what an audience may know.

Owns what may be said to whom, the addresses of pages, and the parts that several tellings share.
Stands on base, trade and ledger.
Never enters: files, templates.
"""
