"""What is true of fretboards and jigs, checked."""
