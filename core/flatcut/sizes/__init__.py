"""One style in many sizes: all of them over each other, and what goes on from one to the next."""
