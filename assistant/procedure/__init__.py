"""Equipment, procedures and their steps, as a trainer writes them; reading and checking them."""
