"""Sound: devices, voices, recognisers, the ear, and files of sound."""
