"""A pattern explained step by step: what was done, in words with its figures, before and after, and as it moves."""
