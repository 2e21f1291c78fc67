"""Which of the numbers that follow the loads is the weight, and which are copies of it."""
