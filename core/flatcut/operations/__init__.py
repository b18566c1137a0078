"""One file for each operation: a frozen dataclass that is a function from pattern to pattern.

`operation.py` holds the base class and the registry, `fields.py` the kinds of parameter, `resolve.py` the filling of
empty references. Every other file here is an operation of the same name.
"""
