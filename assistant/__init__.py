"""A voice assistant, offline, for the technician who services small diesel generating sets."""
