"""What is no water, and is taken out of the curve: tares, vessels, hands, knocks, stirring, doses."""
