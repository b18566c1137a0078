"""What is sewn to what: seams that are suggested, pieces laid along each other and joined."""
