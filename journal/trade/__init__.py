"""The trade's own arithmetic: published tables as data files with their sources, and checks over them.

Pure but for reading its own data files. A figure never leaves without its source, and nothing here
is a verdict: see `journal.trade.caution`.
"""

from journal.trade.caution import BRIEF, CAUTION
from journal.trade.checks import check_trade, sheet_tables, trade_rows

__all__ = ["BRIEF", "CAUTION", "check_trade", "sheet_tables", "trade_rows"]
