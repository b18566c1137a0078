"""What reads patterns and tells of them, declared like an operation: one file for each report."""
