"""Measuring comb and larvae in photos, without the model that draws them."""
