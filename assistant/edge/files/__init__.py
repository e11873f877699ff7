"""What lies on the disk: sessions, procedures, a language's files; read within bounds, written whole or not at all."""
