"""The instruments themselves: how well a scale weighs, shown by known masses."""
