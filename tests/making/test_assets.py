"""Styles and scripts named by their content."""

from __future__ import annotations

from pathlib import Path

from journal.making.assets import named_assets


def write(folder: Path, **files: str) -> Path:
    """A theme folder with files below assets/, named with `_` for `.`."""
    for name, text in files.items():
        path = folder / "assets" / name.replace("_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return folder


def test_a_change_below_shows_in_every_name_above(tmp_path: Path) -> None:
    """A font changes, so does the style that names it; what names nothing that changed keeps its name."""
    files = {
        "a_css": '@font-face{src:url("t.woff2") format("woff2")} b{content:"no.css"}',
        "b_js": 'x="a.css"',
        "c_js": "1",
    }
    before = named_assets(write(tmp_path / "one", t_woff2="old", **files))
    after = named_assets(write(tmp_path / "two", t_woff2="new", **files))
    assert before == named_assets(write(tmp_path / "one"))
    changed = {name for name in before if before[name].address != after[name].address}
    assert changed == {"assets/t.woff2", "assets/a.css", "assets/b.js"}
    font, style = after["assets/t.woff2"].address, after["assets/a.css"]
    assert style.data.decode() == files["a_css"].replace("t.woff2", font.removeprefix("assets/"))
    assert after["assets/b.js"].data.decode() == f'x="{style.address.removeprefix("assets/")}"'


def test_two_that_name_each_other_come_to_an_end(tmp_path: Path) -> None:
    """One of them keeps naming the other as it was written."""
    named = named_assets(write(tmp_path, a_js='"b.js"', b_js='"a.js"'))
    assert b'"a.js"' in named["assets/b.js"].data


def test_a_file_of_the_builder_stands_in_for_ours(tmp_path: Path) -> None:
    """Of the same name; what we do not have stays out, and so does what is no style, script, font or drawing."""
    ours = write(tmp_path / "ours", a_css="ours", b_js="ours", c_svg='"a.css"', d_txt="ours")
    named = named_assets(ours, write(tmp_path / "theirs", a_css="theirs", e_css="theirs"))
    told = {address: asset.data for address, asset in named.items()}
    assert told == {"assets/a.css": b"theirs", "assets/b.js": b"ours", "assets/c.svg": b'"a.css"'}
