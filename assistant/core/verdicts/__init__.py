"""How each quantity is judged: a pressure, a loss, a time, an answer. The evaluator chooses among them."""
