"""What is computed from finished session logs."""
