"""The page for the phone at the bench: what it sends becomes lines of the same plain files."""
