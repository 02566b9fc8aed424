"""Trade: published tables and arithmetic over them, each figure with its source.

Owns rivet, torque and drill figures, the shop's tables, and the caution beside every figure.
Stands on base.
Never enters: an entry, a build.
"""
