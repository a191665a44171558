"""What a craft does differently by another setup: by meaning, decided over every reachable state of both."""
