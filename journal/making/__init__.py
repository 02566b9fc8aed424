"""Making: one way from a view to pages, files and findings.

Owns the laying of a site, what is remembered between two builds, the host, and the search before publishing.
Stands on all rooms below.
Never enters: the terminal.
"""
