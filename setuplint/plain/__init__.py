"""What a setup does in one state, and instant by instant: written from the meaning alone, to check what the solver finds."""
