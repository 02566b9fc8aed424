"""journal.json: the public figures for other programs. Its shape is fixed by docs/format.md."""

from __future__ import annotations

import json
from typing import Any

from journal.site.site_context import Desk
from journal.site.frame import absolute


def render_open_data(desk: Desk, site_url: str) -> bytes:
    """journal.json. `url`s are absolute where the site's own address is known, else relative to its root."""
    view, atlas = desk.view, desk.atlas

    def url(address: str) -> str:
        return absolute(site_url, address) or address

    data: dict[str, Any] = {
        "aircraft": {
            key: value
            for key, value in (
                ("name", view.aircraft.name),
                ("kind", view.aircraft.kind),
                ("registration", view.aircraft.registration),
                ("serial", view.aircraft.serial),
            )
            if value
        },
        "days": view.days,
        "minutes": view.minutes,
        "entries": [
            {
                "id": sheet.id,
                "date": sheet.date.isoformat(),
                "day": sheet.day,
                "title": sheet.title,
                "assembly": sheet.assembly.id,
                "steps": [step.id for step in sheet.steps],
                "begun": [step.id for step in sheet.begun],
                "redone": [step.id for step in sheet.redone],
                "minutes": sheet.minutes,
                "minutes_to_date": sheet.minutes_to_date,
                "people": list(sheet.people),
                "tools": list(sheet.tools),
                "methods": list(sheet.methods),
                "photos": [
                    {"url": url(box.largest.address), "caption": box.caption, "width": box.width, "height": box.height}
                    for box in desk.boxes(sheet)
                    if box.usable
                ],
                "url": url(atlas.entry_address[sheet.id]),
            }
            for sheet in view.sheets
            if not sheet.draft
        ],
        "assemblies": [
            {
                "id": assembly.id,
                "title": assembly.title,
                "state": view.assembly_progress[assembly.id].state.value,
                "minutes": view.by_assembly.get(assembly.id, 0),
                "steps_done": view.assembly_progress[assembly.id].steps_done,
                "steps": view.assembly_progress[assembly.id].steps,
            }
            for assembly in view.assemblies.values()
        ],
        "months": [{"month": month, "minutes": minutes} for month, minutes in sorted(view.by_month.items())],
    }
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()
