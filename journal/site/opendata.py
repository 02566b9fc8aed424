"""journal.json: the public figures for other programs. Its shape is fixed by docs/format.md."""

from __future__ import annotations

import json
from typing import Any

from journal.site.frame import absolute
from journal.site.site_context import SiteContext


def render_open_data(site: SiteContext, site_url: str) -> bytes:
    """journal.json. `url`s are absolute where the site's own address is known, else relative to its root."""
    view, addresses = site.view, site.addresses

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
                "id": entry.id,
                "date": entry.date.isoformat(),
                "day": entry.day,
                "title": entry.title,
                "assembly": entry.assembly.id,
                "steps": [step.id for step in entry.steps],
                "begun": [step.id for step in entry.begun],
                "redone": [step.id for step in entry.redone],
                "minutes": entry.minutes,
                "minutes_to_date": entry.minutes_to_date,
                "people": list(entry.people),
                "tools": list(entry.tools),
                "methods": list(entry.methods),
                "photos": [
                    {"url": url(box.largest.address), "caption": box.caption, "width": box.width, "height": box.height}
                    for box in site.usable_boxes(entry)
                ],
                "url": url(addresses.entry_address[entry.id]),
            }
            for entry in view.entries
            if not entry.draft
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
