"""What stands around the weight in a packet: header, trailer, check, messages of other kinds."""
