"""Stock that comes in as a file: how the file is read, what its columns mean, and which blanks it gives."""
