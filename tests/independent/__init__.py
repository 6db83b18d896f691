"""A second opinion: a model of a small trip written from the rules alone, solved by another solver."""
