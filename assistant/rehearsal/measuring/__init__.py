"""Measuring what is understood, beside the peers and in noise. `enginebay bench hearing` runs it."""
