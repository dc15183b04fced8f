"""The order line as pages on this computer: an HTTP interface and what looks at it."""
