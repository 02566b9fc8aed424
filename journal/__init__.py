"""A build journal: plain files in, a public site and an archive for the inspector out."""

__version__ = "0.1.0"
