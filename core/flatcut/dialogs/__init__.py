"""The editor's dialogs: `files` writes one for each operation, `values` reads back what a person filled in."""
