"""Records held against a setup: what they prove, what explains what was read otherwise, and what was measured."""
