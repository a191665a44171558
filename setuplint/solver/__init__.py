"""Questions as clauses for a SAT solver. Only the rooms `solver` and `engine` use what is here."""
