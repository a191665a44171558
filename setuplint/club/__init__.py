"""What a repository of setups chooses for itself: setuplint.toml, a baseline, rules of its own."""
