"""What is made of a circuit: each a function that returns text or bytes and writes no files."""
