"""Sound in, what was heard out."""
