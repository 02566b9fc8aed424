"""The caution that stands wherever a figure or a comparison is shown: one text for every door."""

CAUTION = (
    "The kit's manual and drawings come first, then the engine's and propeller's, then the rules of your "
    "authority, then the word of a licensed inspector. The figures here are published or remembered "
    "ones, as the source beside each says; they are shown to compare with and decide nothing."
)

BRIEF = "the kit's manual and drawings come first: this advises and decides nothing"
"""For the end of a finding's line."""

TALLY_CAUTION = (
    "The authority decides what counts and whether it is enough. Editions of the checklist and national rules "
    "differ: enter the list that belongs to your kit, with its edition. Tasks count, hours do not. "
    "The share worked out here is arithmetic over what the builder wrote, not a finding of the authority."
)

FORECAST_CAUTION = (
    "An estimate from the builder's own past weeks, not a promise: it knows nothing of money, moves, "
    "back-orders, paint, paperwork or the winter after next."
)
