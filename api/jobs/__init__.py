"""The desk: from what a job has written down to its answer."""
