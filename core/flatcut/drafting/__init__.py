"""Lines constructed, and outlines redrafted: wedges closed, corners and edges moved, edges carried down, vents."""
