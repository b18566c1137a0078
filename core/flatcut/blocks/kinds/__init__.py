"""The kinds of block, one file each; `kind` is what all are derived from, `upper` what those with shoulders share."""
