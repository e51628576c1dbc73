"""Where ears and mouth meet: a cab delivers events in the order of their time and takes what is to be said."""
