"""Wiring: settings, the loop in which one thread owns the core, and the worlds that carry effects out."""
