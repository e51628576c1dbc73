"""How the speller of the second opinion learns: texts of the language, voices that say them, cab noise around them."""
