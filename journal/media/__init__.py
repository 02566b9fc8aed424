"""Media: photos and clips, from originals that are only ever read.

Owns the facts of an original, the clean copies made of it, and their store.
Stands on base.
Never enters: entries, pages.
"""
