"""Base: what every other room speaks in.

Owns the records, `Problem`, lengths and torques, Markdown trees, the wording of figures, digests, and the
writing of a file or folder whole.
Stands on nothing.
Never enters: where a build keeps its files, mkdocs.
"""
