"""Reading: the files of a build folder become a closed `Build`, and problems with their places.

Owns YAML, CSV and front matter; no other room knows them.
Stands on base and trade.
Never enters: a photo's pixels, totals.
"""
