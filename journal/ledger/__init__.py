"""Ledger: all that follows from the files. `open_journal` opens a build folder.

Owns hours, states, links, the drawing, evidence, tally, costs and forecast.
Stands on base, trade, reading and media.
Never enters: audiences, pages.
"""
