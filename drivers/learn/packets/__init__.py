"""Bytes sorted into packets: frames cut out of a stream, lines and their parts, kinds of one length."""
