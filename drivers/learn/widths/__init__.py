"""How many bytes and bits a number has beyond those that the known loads have needed."""
