"""The plan of a visit: what is due, in which order, with what."""
