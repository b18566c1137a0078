"""The pieces of a garment sewn round a body form and brought to rest: a computed look before cloth is cut."""
