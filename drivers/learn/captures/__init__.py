"""What was heard of an unknown instrument, in memory and as a file without what tells it from its sisters."""
