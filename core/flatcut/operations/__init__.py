"""One file for each operation: a frozen dataclass that is a function from pattern to pattern.

`operation.py` holds the base class and the registry. Every other file here is an operation of the same name.
"""
