"""The edge of the service: request numbers, headers, size limits, log, measures."""
