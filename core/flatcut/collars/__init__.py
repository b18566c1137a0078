"""Collars drafted from necklines as measured: bands, stand and fall, flat collars.

neckline    the line that a collar is sewn to, from the fold to the opening        curves    the lines of a collar
pieces      from curves to pieces with their notches; under collars                kinds/    a kind of collar each
"""
