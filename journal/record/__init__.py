"""Record: what an inspector relies on.

Owns seals, the trace and its tables, the binder, the bag, and what verifies them.
Stands on base, trade, view, and media for copies.
Never enters: the ledger, site, finding.
"""
