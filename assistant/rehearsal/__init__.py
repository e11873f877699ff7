"""Synthetic technicians and the places they work in: their voices, the noise, what they do.

Used by the demonstration, by rehearsals, by measurements and by tests; never by the assistant at work.
"""
