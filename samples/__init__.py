"""Sample drawings and recipes; only what `flatcut demo` needs is installed."""
