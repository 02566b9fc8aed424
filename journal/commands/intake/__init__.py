"""Getting work in: a new build, an evening's entry, the notes and photos of earlier years.

Every command here adds and never overwrites: what is new is written beside its place, read back
with the reader that will read it ever after, and then moved there in one step.
"""
