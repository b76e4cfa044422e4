"""What passes through the workshop: blanks, their stages and readings, benches, travellers."""
