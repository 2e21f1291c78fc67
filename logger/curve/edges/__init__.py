"""The edges of a flow, fitted: when it begins and ends, and all that is left possible of it."""
