"""Workbooks as spreadsheet programs save them (ECMA-376, SpreadsheetML), written by hand."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from xml.sax.saxutils import escape

_MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
_RELS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_STYLES = (
    f'<styleSheet {_MAIN}><numFmts count="1"><numFmt numFmtId="164" formatCode="[h]:mm"/></numFmts><cellXfs count="3">'
    '<xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/></cellXfs></styleSheet>'
)

Cell = str | float | date | timedelta | None


def write_workbook(path: Path, sheets: Mapping[str, Sequence[Sequence[Cell]]]) -> Path:
    """An .xlsx of sheets of rows; days and spans of time are figures that a format shows as such."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        parts = [
            f'<Override PartName="/xl/worksheets/s{n}.xml" ContentType="{_KIND}.worksheet+xml"/>'
            for n in range(len(sheets))
        ]
        packed.writestr(
            "[Content_Types].xml",
            '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
            '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{_KIND}.sheet.main+xml"/>{"".join(parts)}</Types>',
        )
        package = "http://schemas.openxmlformats.org/package/2006/relationships"
        packed.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{package}"><Relationship Id="r" Type="{_RELS}/officeDocument" '
            'Target="xl/workbook.xml"/></Relationships>',
        )
        names = [f'<sheet name="{escape(name)}" sheetId="{n + 1}" r:id="r{n}"/>' for n, name in enumerate(sheets)]
        packed.writestr(
            "xl/workbook.xml", f'<workbook {_MAIN} xmlns:r="{_RELS}"><sheets>{"".join(names)}</sheets></workbook>'
        )
        links = [
            f'<Relationship Id="r{n}" Type="{_RELS}/worksheet" Target="worksheets/s{n}.xml"/>'
            for n in range(len(sheets))
        ]
        links.append(f'<Relationship Id="st" Type="{_RELS}/styles" Target="styles.xml"/>')
        packed.writestr(
            "xl/_rels/workbook.xml.rels", f'<Relationships xmlns="{package}">{"".join(links)}</Relationships>'
        )
        packed.writestr("xl/styles.xml", _STYLES)
        for number, rows in enumerate(sheets.values()):
            body = "".join(f"<row>{''.join(map(_cell, row))}</row>" for row in rows)
            packed.writestr(
                f"xl/worksheets/s{number}.xml", f"<worksheet {_MAIN}><sheetData>{body}</sheetData></worksheet>"
            )
    path.write_bytes(out.getvalue())
    return path


def _cell(value: Cell) -> str:
    if value is None or value == "":
        return "<c/>"
    if isinstance(value, str):
        return f'<c t="inlineStr"><is><t xml:space="preserve">{escape(value)}</t></is></c>'
    if isinstance(value, timedelta):
        return f'<c s="2"><v>{value.total_seconds() / 86400}</v></c>'
    if isinstance(value, date):
        return f'<c s="1"><v>{(value - date(1899, 12, 30)).days}</v></c>'
    return f"<c><v>{value}</v></c>"
