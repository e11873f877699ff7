"""From scores of sound to what was said and how far to believe it. Pure: no files, no engines, no clocks."""
