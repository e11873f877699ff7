"""Who has the floor: `floor(state, event) -> (state, actions)`, the one machine behind every world.

Knows speaking, listening, cutting off, the talk button, warnings that must be heard, and devices that go and come.
Refuses to know clocks, threads, sound, and what a step is.
"""
