"""Where our templates, styles, scripts and type lie: in the wheel or beside the package in a checkout."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]


def theme_dir() -> Path:
    """The folder with `main.html` and `assets/`.

    A wheel carries it as `journal/theme`; a checkout has it as `theme_overrides/`.
    """
    in_wheel = _PACKAGE / "theme"
    return in_wheel if in_wheel.is_dir() else _PACKAGE.parent / "theme_overrides"
