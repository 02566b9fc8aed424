"""Moving: what was written is renamed, moved, split or joined, with everything that names it.

A move is worked out as texts before and after, tried with the reader in a folder of its own, and done whole or not at
all. The totals before and after are the same, or nothing is done.
"""
