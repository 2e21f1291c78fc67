"""What the pages show as plain data: the line of JSON, with units in the names of its keys."""
