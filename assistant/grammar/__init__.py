"""What may be said: JSGF to word graphs, their written forms, their meanings, numbers and units both ways."""
