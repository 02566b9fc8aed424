"""Keeps the host's notices about its own future from the user: imported before the host's theme is.

The theme prints its notice when it is imported, which `mkdocs build` does before it loads any
plugin. So mkdocs.yml names `journal.quiet.host` in a YAML tag, which is read earlier still; the
journal's own commands import this module first.
"""

from __future__ import annotations

import os

os.environ.setdefault("NO_MKDOCS_2_WARNING", "true")

host = "quiet"
"""What the tag in mkdocs.yml stands for."""
