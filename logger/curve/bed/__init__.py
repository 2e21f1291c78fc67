"""Water held by the bed and flowing through it: two scales, the drawdown, the bed's resistance."""
