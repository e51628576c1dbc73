"""Lines in, sound or captions out."""
