"""Everything that touches the world: sound, files, clocks, processes.

Knows the domain; the domain never imports it. Each adapter is a module of its own, imported
by name, so that one that is not used costs nothing.
"""
