"""Drawing comb and larvae with known truth."""
