"""Commands that are no operation and no report: one file for each."""
