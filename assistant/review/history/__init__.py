"""All session logs of a folder together: what a fleet has to see over weeks and months."""
