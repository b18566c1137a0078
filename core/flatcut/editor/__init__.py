"""The plugin's side that is not the editor's: `bridge` turns a press into an operation, `install` puts it in place.

`ways` says how the packages that flatcut needs are reached from the editor's own Python. Nothing here imports the
editor's library; the script under extensions/ does.
"""
