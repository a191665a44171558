"""The bench card: steps that show that the transmitter does what the file says, and the proof that none is missing."""
