"""The outline of a paper piece out of a photograph, with tilt and lens taken out and its scale from control squares."""
