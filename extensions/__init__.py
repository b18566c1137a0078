"""What the editor runs: its dialogs, and the one script behind them."""
