"""Sizes by rules: cardinal points go as a rule table says, and everything else goes with them."""
