"""The words that a call-out may begin with: each set is one and the same thing, for reading and for judging."""

from __future__ import annotations

PARTS = frozenset({"rivet", "solid rivet", "blind rivet", "nutplate", "nut plate", "anchor nut", "fastener"})
"""What is about a part alone; a screw may have a torque as well."""
FASTENERS = PARTS | {"screw"}
TORQUED = frozenset({"bolt", "screw", "nut", "fitting", "torque"})
EDGE = frozenset({"edge", "edge distance"})
HOLE = frozenset({"hole", "drill"})
HEAD_WIDTH, HEAD_HEIGHT = frozenset({"shop head width"}), frozenset({"shop head height"})
GRIP, THREADS = frozenset({"grip"}), frozenset({"threads", "threads showing"})
LOCK = frozenset({"lock", "locking", "locked"})
MATERIAL = frozenset({"material", "sealant", "primer", "adhesive"})
LENGTHS = EDGE | GRIP | HEAD_WIDTH | HEAD_HEIGHT | {"gap", "spacing", "shop head"}
"""What measures a length where nothing else is said; a hole may be a drill."""
OF_LINES = FASTENERS | TORQUED | LENGTHS | HOLE | THREADS | LOCK | MATERIAL
"""The words that speak of the lines of entries; any other speaks of measurements."""
