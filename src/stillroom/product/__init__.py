"""What is made: mixtures, foods, recipes and the steps of a process."""
