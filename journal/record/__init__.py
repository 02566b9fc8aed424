"""The record: seals, the trace and its tables, the binder, the bag, and what verifies it."""
