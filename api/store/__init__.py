"""The records of a shop: jobs as append-only events, people, photos, answers that were given.

The one idea: nothing is changed, everything is added. What a job looks like now is worked
out from its events (`api.store.fold`), so that undo, history and audit are the same record.
"""

__all__: list[str] = []
