"""Replay: run the full loop of list and answers on cars whose truth is known.

Simulated cars come out of the model itself, so a replay shows how well the *list* uses the
model, never how well the model describes cars. Practice cases were written by people who also
wrote links: they show where the truth stands, and no accuracy is claimed from them.
"""
